"""Fonts, paragraph styles and tables of printed pages."""

from collections.abc import Sequence
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

BODY: Final = "BenchBody"
STRONG: Final = "BenchStrong"
INK: Final = HexColor("#15191d")
FAINT: Final = HexColor("#59636d")
RULE: Final = HexColor("#c9d0d6")
ACCENT: Final = HexColor("#1b5fae")
_VERDICT: Final = {"pass": HexColor("#1b6b45"), "deviation": HexColor("#8a5a00")}
_HELD: Final = _VERDICT["deviation"]
_FAIL: Final = HexColor("#a01722")

SMALL: Final = ParagraphStyle("small", fontName=BODY, fontSize=7.2, leading=9, textColor=INK)
BOLD: Final = ParagraphStyle("bold", fontName=STRONG, fontSize=8.5, leading=11, textColor=INK)
HEAD: Final = ParagraphStyle(
    "head", fontName=STRONG, fontSize=9.5, leading=13, textColor=ACCENT, spaceAfter=1
)
TITLE: Final = ParagraphStyle("title", fontName=STRONG, fontSize=17, leading=21, textColor=INK)
_LABEL: Final = ParagraphStyle("label", parent=SMALL, textColor=FAINT)


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
    """Return plain text as a paragraph: markup in it is shown, never obeyed."""
    return Paragraph(escape(plain(text)), style)


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


def verdict_box(decision: str, qa_hold: bool) -> Flowable:
    """Return the decision as a word in a box, and whether QA holds the unit."""
    word = ParagraphStyle(
        "word", fontName=STRONG, fontSize=14, leading=17, textColor=white, alignment=1
    )
    under = ParagraphStyle("under", parent=SMALL, textColor=white, alignment=1)
    lines = [paragraph(decision.upper(), word)]
    lines.append(paragraph("ON QA HOLD" if qa_hold else "not held", word if qa_hold else under))
    style = [
        ("BACKGROUND", (0, 0), (-1, -1), _HELD if qa_hold else _VERDICT.get(decision, _FAIL)),
        ("TOPPADDING", (0, 0), (-1, -1), 4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    ]
    return Table([[lines]], colWidths=[40 * mm], style=style)
