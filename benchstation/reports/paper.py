"""Fonts, paragraph styles and tables of printed pages."""

import re
from collections.abc import Sequence
from itertools import zip_longest
from pathlib import Path
from typing import Any, Final
from xml.sax.saxutils import escape

import reportlab
from reportlab.lib.colors import HexColor, white
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable, Paragraph, Table

from benchstation.domain.disposition import REJECTIONS, STOPPED, Standing, may_look_good

BODY: Final = "BenchBody"
STRONG: Final = "BenchStrong"
INK: Final = HexColor("#15191d")
FAINT: Final = HexColor("#59636d")
RULE: Final = HexColor("#c9d0d6")
ACCENT: Final = HexColor("#1b5fae")
_GOOD: Final = HexColor("#1b6b45")
_HELD: Final = HexColor("#8a5a00")
_FAIL: Final = HexColor("#a01722")
_WAITS: Final = HexColor("#4a5560")

SMALL: Final = ParagraphStyle("small", fontName=BODY, fontSize=7.2, leading=9, textColor=INK)
BOLD: Final = ParagraphStyle("bold", fontName=STRONG, fontSize=8.5, leading=11, textColor=INK)
HEAD: Final = ParagraphStyle(
    "head", fontName=STRONG, fontSize=9.5, leading=13, textColor=ACCENT, spaceAfter=1
)
TITLE: Final = ParagraphStyle("title", fontName=STRONG, fontSize=17, leading=21, textColor=INK)
_LABEL: Final = ParagraphStyle("label", parent=SMALL, textColor=FAINT)


_EXPONENT: Final = re.compile("(?<=10)([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)")
_LOWERED: Final = str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "-0123456789")


def register_fonts() -> None:
    """Make the embedded fonts known; the library brings the files."""
    if BODY in pdfmetrics.getRegisteredFontNames():
        return
    folder = Path(reportlab.__file__).parent / "fonts"
    pdfmetrics.registerFont(TTFont(BODY, str(folder / "Vera.ttf")))
    pdfmetrics.registerFont(TTFont(STRONG, str(folder / "VeraBd.ttf")))


def plain(text: str) -> str:
    """Return text with every character that the font lacks written as its code, so none is lost."""
    known = pdfmetrics.getFont(BODY).face.charToGlyph
    return "".join(c if ord(c) in known else f"[U+{ord(c):04X}]" for c in text)


def paragraph(text: str, style: ParagraphStyle) -> Paragraph:
    """Return plain text as a paragraph: markup in it is shown, never obeyed.

    An exponent is raised by the library, since the font has no raised digits but three.
    """
    parts = _EXPONENT.split(text)
    raised = (f"<super>{p.translate(_LOWERED)}</super>" for p in parts[1::2])
    shown = zip_longest((escape(plain(p)) for p in parts[::2]), raised, fillvalue="")
    return Paragraph("".join(a + b for a, b in shown), style)


def facts_table(facts: Sequence[tuple[str, str]], width: float) -> Table:
    """Return pairs of label and value under each other."""
    rows = [[paragraph(label, _LABEL), paragraph(value, SMALL)] for label, value in facts]
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, -1), 0.3, RULE),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1.4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.8),
    ]
    return Table(rows, colWidths=[0.42 * width, 0.58 * width], style=style)


def grid_style() -> list[tuple[Any, ...]]:
    """Return the style of a table with one head row."""
    return [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, 0), 0.7, INK),
        ("LINEBELOW", (0, 1), (-1, -1), 0.3, RULE),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 4),
        ("TOPPADDING", (0, 0), (-1, -1), 1.2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.6),
    ]


def verdict_in_words(decision: str, standing: Standing) -> str:
    """Return the judgement with QA's standing; what QA holds or rejected comes first."""
    return ("; " if standing in STOPPED else ", ").join(verdict(decision, standing))


def verdict(decision: str, standing: Standing) -> tuple[str, str]:
    """Return what is said first of a unit, and what beside it."""
    return (standing, f"judged {decision}") if standing in STOPPED else (decision, standing)


def _colour(decision: str, standing: Standing) -> HexColor:
    if standing in REJECTIONS or decision not in ("pass", "deviation"):
        return _FAIL
    if standing in STOPPED or decision == "deviation":
        return _HELD
    return _GOOD if may_look_good(decision, standing) else _WAITS


def verdict_box(decision: str, standing: Standing) -> Flowable:
    """Return the judgement and QA's standing in a box; green only for a released pass."""
    word = ParagraphStyle(
        "word", fontName=STRONG, fontSize=14, leading=17, textColor=white, alignment=1
    )
    under = ParagraphStyle("under", parent=SMALL, textColor=white, alignment=1)
    first, second = verdict(decision, standing)
    lines = [paragraph(first.upper(), word), paragraph(second, under)]
    style = [
        ("BACKGROUND", (0, 0), (-1, -1), _colour(decision, standing)),
        ("TOPPADDING", (0, 0), (-1, -1), 4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    ]
    return Table([[lines]], colWidths=[40 * mm], style=style)
