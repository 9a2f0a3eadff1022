"""A chart of the process on paper: both charts, what they say, and from which records."""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from reportlab.graphics.shapes import Circle, Drawing, Line, PolyLine, Rect, String
from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer

from benchstation.atomic_file import part_of, put_in_place
from benchstation.domain.quality import Evaluation
from benchstation.domain.record import stamp
from benchstation.quantities.notation import tick_text
from benchstation.reports.archive import About, Archive
from benchstation.reports.chart import steps
from benchstation.reports.fonts import BODY, plain, register_fonts
from benchstation.reports.pages import draw_pages
from benchstation.reports.paper import (
    ACCENT,
    FAINT,
    HEAD,
    INK,
    RULE,
    SMALL,
    TITLE,
    grid_style,
    paragraph,
)
from benchstation.reports.quality_words import Axis
from benchstation.reports.quality_words import Line as Words
from benchstation.reports.tagged import Figure, layout_table

MARGIN = 15 * mm
HIGH, LOW = 62 * mm, 38 * mm
LEFT, BOTTOM, TOP, RIGHT = 34.0, 14.0, 12.0, 46.0
NOTE = (
    "Drawn from filed records for the people who improve the process. It changes no record, "
    "releases no unit and replaces no inspection."
)
_NONE = (("none", "", ""),)
Groups = Sequence[tuple[str, Sequence[Words]]]


def write_quality_paper(
    path: Path,
    title: str,
    heading: str,
    found: Evaluation,
    axis: Axis,
    groups: Groups,
    standing: str,
    utc: datetime,
) -> Path:
    """Write the PDF, whole or not at all; ``standing`` says up to which entry it tells."""
    register_fonts()
    width = A4[0]

    def foot(canvas: Canvas, page: int, pages: int) -> None:
        canvas.setFont(BODY, 6.5)
        canvas.setFillColor(FAINT)
        canvas.drawString(MARGIN, MARGIN - 8, plain(f"{standing} ({stamp(utc)})"))
        canvas.drawRightString(width - MARGIN, MARGIN - 8, f"page {page} of {pages}")

    story = _story(title, heading, found, axis, groups, width - 2 * MARGIN)
    pages = draw_pages(story, MARGIN, foot)
    about = About(title, "benchstation", heading, utc)
    temporary = part_of(path)
    temporary.write_bytes(Archive(*pages, about).content())
    return put_in_place(temporary, path)


def _story(
    title: str, heading: str, found: Evaluation, axis: Axis, groups: Groups, width: float
) -> list[Flowable]:
    story: list[Flowable] = [paragraph(title, TITLE), paragraph(heading, SMALL), Spacer(1, 3 * mm)]
    chart = found.chart
    if chart is not None:
        levels = [("upper limit", chart.upper), ("mean", chart.mean), ("lower limit", chart.lower)]
        levels += [("tolerance", v) for v in (found.upper, found.lower) if v is not None]
        fired = {run.last for run in found.runs}
        ranges = [("limit", chart.range_upper), ("mean", chart.mean_range)]
        beyond = {place + 1 for place in chart.ranges_beyond}
        story += [
            Figure(
                _chart("Values", (width, HIGH), list(enumerate(found.values)), axis, levels, fired),
                _told(f"{title}, {len(found.values)} values", levels, axis),
            ),
            Figure(
                _chart(
                    "Moving ranges",
                    (width, LOW),
                    list(enumerate(chart.moving_ranges, 1)),
                    axis,
                    ranges,
                    beyond,
                ),
                _told("Moving ranges of these values", ranges, axis),
            ),
            Spacer(1, 2 * mm),
        ]
    for name, lines in groups:
        rows = [[paragraph(part, SMALL) for part in line] for line in lines or _NONE]
        widths = [width * share for share in (0.26, 0.3, 0.44)]
        table = layout_table(rows, widths, _lined())
        story += [paragraph(name, HEAD), table, Spacer(1, 2 * mm)]
    return [*story, paragraph(NOTE, SMALL)]


def _lined() -> list[tuple[Any, ...]]:
    """Return the style of rows without a head: a thin line below each."""
    align, _, _, *padding = grid_style()
    return [align, ("LINEBELOW", (0, 0), (-1, -1), 0.3, RULE), *padding]


def _told(what: str, levels: Sequence[tuple[str, float]], axis: Axis) -> str:
    """Return a chart in words, for who does not see it."""
    return f"{what}: " + ", ".join(f"{words} {axis.text(value)}" for words, value in levels)


def _chart(
    title: str,
    size: tuple[float, float],
    points: Sequence[tuple[int, float]],
    axis: Axis,
    levels: Sequence[tuple[str, float]],
    fired: set[int],
) -> Drawing:
    """Draw points in their order; one that completes a rule is a square, the others dots."""
    width, height = size
    drawing = Drawing(width, height)
    drawing.add(_text(0, height - 8, f"{title}, {axis.unit}", "start", 7.2))
    y = [value * axis.factor for _, value in points]
    ends = [*y, *(value * axis.factor for _, value in levels)]
    margin = 0.06 * max(max(ends) - min(ends), 1e-9)
    low, high = min(ends) - margin, max(ends) + margin
    right, top = width - RIGHT, height - TOP
    last = max(1, points[-1][0])

    def x_of(place: int) -> float:
        return LEFT + (right - LEFT) * place / last

    def y_of(value: float) -> float:
        return BOTTOM + (top - BOTTOM) * (value - low) / (high - low)

    rows = steps(low, high)
    step = rows[1] - rows[0] if len(rows) > 1 else 0.0
    for value in rows:
        drawing.add(Line(LEFT, y_of(value), right, y_of(value), strokeColor=RULE, strokeWidth=0.4))
        drawing.add(_text(LEFT - 3, y_of(value) - 2.2, tick_text(value, step), "end"))
    for place in sorted({0, last // 2, last}):
        drawing.add(_text(x_of(place), 4, str(place + 1), "middle"))
    free = -1e9
    for words, value in sorted(levels, key=lambda one: one[1]):
        at = y_of(value * axis.factor)
        dash = (6, 2) if words == "tolerance" else (3, 2)
        drawing.add(Line(LEFT, at, right, at, strokeColor=INK, strokeWidth=0.6,
                         strokeDashArray=dash))  # fmt: skip
        free = max(at - 2.2, free + 6.5)
        drawing.add(_text(right + 2, free, f"{words} {axis.number(value)}", "start"))
    line = [c for (place, _), v in zip(points, y, strict=True) for c in (x_of(place), y_of(v))]
    drawing.add(PolyLine(line, strokeColor=ACCENT, strokeWidth=0.5))
    for (place, _), value in zip(points, y, strict=True):
        x, at = x_of(place), y_of(value)
        if place in fired:
            drawing.add(Rect(x - 2, at - 2, 4, 4, fillColor=INK, strokeColor=INK))
        else:
            drawing.add(Circle(x, at, 1.0, fillColor=ACCENT, strokeColor=ACCENT))
    return drawing


def _text(x: float, y: float, text: str, anchor: str, size: float = 6.0) -> String:
    return String(
        x, y, plain(_lowered(text)), fontName=BODY, fontSize=size, fillColor=FAINT,
        textAnchor=anchor,
    )  # fmt: skip


def _lowered(text: str) -> str:
    """Return an exponent with a caret: a drawing raises nothing, and no such digit is drawn."""
    raised = "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"
    found = "".join(
        ("^" if n == 0 or text[n - 1] not in raised else "") + "-0123456789"[raised.index(c)]
        if c in raised
        else c
        for n, c in enumerate(text)
    )
    return found
