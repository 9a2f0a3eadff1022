"""A dimension on the drawing of a damper: from where to where a figure is measured."""

from dataclasses import dataclass

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from benchstation.screens.model.specifications import DrawingView
from benchstation.ui.shell.theme import Palette

ARROW, OVER = 8.0, 6.0


@dataclass(frozen=True, slots=True)
class Dimension:
    """Which one, and its words: label and value."""

    mark: str
    words: str


def span_of(view: DrawingView, mark: str) -> tuple[float, float] | None:
    """Return where along the tube a dimension begins and ends, m; ``None``: it has no length."""
    return {
        "length": (0.0, view.length),
        "stroke": (view.length, view.length + view.rod_out),
        "floating": (view.floating_from, view.floating_to),
        "piston": (view.piston_from, view.length),
        "guide": (view.length, view.length + view.guide),
        "gas": (0.0, view.floating_from),
        "room": (0.0, view.floating_from),
        "oil": (view.floating_to, view.length),
        "clearance": (view.floating_to, view.piston_from),
    }.get(mark)


def height_of(view: DrawingView, mark: str) -> float | None:
    """Return what a dimension across the tube measures, m; ``None``: it is none."""
    return {"bore": view.bore, "rod": view.rod}.get(mark)


def draw_dimension(
    painter: QPainter, palette: Palette, view: DrawingView, dimension: Dimension, tube: QRectF
) -> None:
    """Draw lines, arrows and words over the drawing; ``tube`` is where the body stands."""
    scale = tube.width() / view.length
    pen = QPen(QColor(palette.focus), 2.5)
    painter.setPen(pen)
    painter.setBrush(QColor(palette.focus))
    span, high = span_of(view, dimension.mark), height_of(view, dimension.mark)
    if span is not None:
        start, end = (tube.left() + x * scale for x in span)
        y = tube.center().y()
        for x in (start, end):
            painter.drawLine(QLineF(x, tube.top() - OVER, x, tube.bottom() + OVER))
        _arrowed(painter, QPointF(start, y), QPointF(end, y))
        _words(painter, palette, dimension.words, QPointF((start + end) / 2, y))
    elif high is not None:
        out = tube.right() + max(view.rod_out * scale / 2, 3 * ARROW)
        x = tube.left() + 0.85 * tube.width() if dimension.mark == "bore" else out
        top, low = (tube.center().y() + sign * high * scale / 2 for sign in (-1, 1))
        for y in (top, low):
            painter.drawLine(QLineF(x - 2 * ARROW, y, x + 2 * ARROW, y))
        _arrowed(painter, QPointF(x, top), QPointF(x, low))
        middle = QPointF(x - 30, tube.center().y() if dimension.mark == "bore" else low + 18)
        _words(painter, palette, dimension.words, middle)


def _arrowed(painter: QPainter, start: QPointF, end: QPointF) -> None:
    """Draw a line with a head at either end, or none where there is no room for heads."""
    line = QLineF(start, end)
    painter.drawLine(line)
    if line.length() < 3 * ARROW:
        return
    along = QPointF(line.dx(), line.dy()) / line.length()
    across = QPointF(-along.y(), along.x())
    for tip, way in ((start, along), (end, -along)):
        base = tip + way * ARROW
        points = [tip, base + across * ARROW / 2, base - across * ARROW / 2]
        painter.drawPolygon(QPolygonF(points))


def _words(painter: QPainter, palette: Palette, words: str, middle: QPointF) -> None:
    metrics = QFontMetricsF(painter.font())
    wide, high = metrics.horizontalAdvance(words) + 10, metrics.height() + 4
    left = min(max(middle.x() - wide / 2, 2.0), painter.device().width() - wide - 2)
    box = QRectF(left, middle.y() - high / 2, wide, high)
    painter.fillRect(box, QColor(palette.panel))
    painter.setPen(QColor(palette.text))
    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)
