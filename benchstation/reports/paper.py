"""Paragraph styles and tables of printed pages."""

import re
from collections.abc import Sequence
from typing import Any, Final
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor, white
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.platypus import Flowable, Table

from benchstation.domain.disposition import REJECTIONS, STOPPED, Standing, may_look_good
from benchstation.reports.fonts import BODY, STRONG, plain
from benchstation.reports.tagged import Text, data_table, layout_table, text_of

INK: Final = HexColor("#15191d")
FAINT: Final = HexColor("#59636d")
RULE: Final = HexColor("#c9d0d6")
ACCENT: Final = HexColor("#1b5fae")
_GOOD: Final = HexColor("#1b6b45")
_HELD: Final = HexColor("#8a5a00")
_FAIL: Final = HexColor("#a01722")
_WAITS: Final = HexColor("#4a5560")

VERDICT_WIDTH: Final = 40 * mm
WORD_PT: Final = 14.0
WORD_ROOM: Final = 13.0
"""What the cell keeps free beside its words, in points."""

SMALL: Final = ParagraphStyle("small", fontName=BODY, fontSize=7.2, leading=9, textColor=INK)
BOLD: Final = ParagraphStyle("bold", fontName=STRONG, fontSize=8.5, leading=11, textColor=INK)
HEAD: Final = ParagraphStyle(
    "head", fontName=STRONG, fontSize=9.5, leading=13, textColor=ACCENT, spaceAfter=1
)
TITLE: Final = ParagraphStyle("title", fontName=STRONG, fontSize=17, leading=21, textColor=INK)
UNDER: Final = ParagraphStyle("under", parent=SMALL, fontSize=6.5, leading=8, textColor=FAINT)
_LABEL: Final = ParagraphStyle("label", parent=SMALL, textColor=FAINT)


_RAISED: Final = re.compile("(?<=10)([⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)|([₀₁₂₃₄₅₆₇₈₉]+)")
_DIGITS: Final = str.maketrans("⁻⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉", "-01234567890123456789")


def paragraph(text: str, style: ParagraphStyle) -> Text:
    """Return plain text as a paragraph: markup in it is shown, never obeyed.

    An exponent is raised and an index lowered by the library, since the font has few such digits.
    """
    parts = _RAISED.split(text)
    shown = [escape(plain(part)) if n % 3 == 0 else "" for n, part in enumerate(parts)]
    for n in range(1, len(parts), 3):
        raised, lowered = parts[n], parts[n + 1]
        tag, digits = ("super", raised) if raised else ("sub", lowered)
        shown[n] = f"<{tag}>{digits.translate(_DIGITS)}</{tag}>"
    return text_of(style)("".join(shown), style)


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
    return data_table(rows, (0.4 * width, 0.6 * width), style, heads="Row")


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
    if standing is Standing.SUPERSEDED:
        return _WAITS
    if standing in REJECTIONS or decision not in ("pass", "deviation"):
        return _FAIL
    if standing in STOPPED or decision == "deviation":
        return _HELD
    return _GOOD if may_look_good(decision, standing) else _WAITS


def verdict_box(decision: str, standing: Standing) -> Flowable:
    """Return the judgement and QA's standing in a box; green only for a released pass."""
    first, second = verdict(decision, standing)
    widest = max(stringWidth(part, STRONG, WORD_PT) for part in first.upper().split())
    # No word is broken: a long one is written smaller.
    size = WORD_PT * min(1.0, (VERDICT_WIDTH - WORD_ROOM) / widest)
    word = ParagraphStyle(
        "word", fontName=STRONG, fontSize=size, leading=17, textColor=white, alignment=1
    )
    under = ParagraphStyle("under", parent=SMALL, textColor=white, alignment=1)
    lines = [paragraph(first.upper(), word), paragraph(second, under)]
    style = [
        ("BACKGROUND", (0, 0), (-1, -1), _colour(decision, standing)),
        ("TOPPADDING", (0, 0), (-1, -1), 4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    ]
    return layout_table([[lines]], (VERDICT_WIDTH,), style)


def boxed(lines: Sequence[str], width: float) -> Flowable:
    """Return lines in a frame of their own."""
    style = [
        ("BOX", (0, 0), (-1, -1), 0.7, _HELD),
        ("TOPPADDING", (0, 0), (-1, -1), 0.3),
        ("BOTTOMPADDING", (0, 0), (-1, -2), 0.3),
        ("BOTTOMPADDING", (0, -1), (-1, -1), 2.5),
    ]
    rows = [[paragraph(line, SMALL)] for line in lines]
    return layout_table(rows, (width,), style)
