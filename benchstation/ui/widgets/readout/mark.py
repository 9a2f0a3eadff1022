"""Marks: a shape for every meaning, so that colour never stands alone.

Octagon: danger. Triangle: caution. Disc with a tick: normal. Disc with a stroke: to be done.
"""

import math

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.bench import ReadingView
from benchstation.screens.model.elements import StepState, Tone
from benchstation.ui.shell.labels import palette_of
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import Palette

SPOKEN = {
    Tone.QUIET: "",
    Tone.PLAIN: "",
    Tone.NORMAL: "normal",
    Tone.GOOD: "pass",
    Tone.CAUTION: "caution",
    Tone.DANGER: "danger",
    Tone.MANDATORY: "to be done",
}


def spoken(reading: ReadingView) -> list[str]:
    """Return a reading in words: value, health, age."""
    said = [f"{reading.number} {reading.unit}", SPOKEN[reading.tone], *reading.words]
    if reading.stale:
        said.append(f"stale, {reading.age}" if reading.age else "stale")
    return [word for word in said if word]


def paint_mark(painter: QPainter, box: QRectF, tone: Tone, palette: Palette) -> None:
    """Draw the mark of a meaning into a square."""
    if tone is Tone.NORMAL:
        paint_normal(painter, box, palette)
        return
    colours = palette.tone(tone)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    pen = QPen(QColor(colours.ink), max(1.5, box.width() / 16))
    painter.setPen(pen)
    painter.setBrush(QColor(colours.fill))
    inner = box.adjusted(1, 1, -1, -1)
    sign = QPen(QColor(colours.sign), max(2.0, box.width() / 9))
    sign.setCapStyle(Qt.PenCapStyle.RoundCap)
    match tone:
        case Tone.DANGER:
            painter.drawPolygon(_octagon(inner))
            painter.setPen(sign)
            _stroke(painter, inner, 0.24, 0.56, 0.75)
        case Tone.CAUTION:
            painter.drawPolygon(_triangle(inner))
            painter.setPen(sign)
            _stroke(painter, inner, 0.38, 0.62, 0.79)
        case Tone.GOOD:
            painter.drawEllipse(inner)
            painter.setPen(sign)
            _tick(painter, inner)
        case Tone.MANDATORY:
            painter.drawEllipse(inner)
            painter.setPen(sign)
            _stroke(painter, inner, 0.24, 0.56, 0.75)
        case _:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(inner.adjusted(1, 1, -1, -1))


def paint_normal(painter: QPainter, box: QRectF, palette: Palette) -> None:
    """Draw a grey tick: what is as it should be, and no more is said of it."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    tick = QPen(QColor(palette.tone(Tone.QUIET).ink), max(2.0, box.width() / 8))
    tick.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(tick)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    _tick(painter, box.adjusted(-1, -1, 1, 1))


def paint_step(painter: QPainter, box: QRectF, state: StepState, palette: Palette) -> None:
    """Draw where a step stands: tick, arrow, ring, or caution for one to be done again."""
    if state is StepState.DONE:
        # Done is the normal case, and says nothing of how good it is.
        paint_normal(painter, box, palette)
    elif state in (StepState.REDO, StepState.DIFFERS):
        paint_mark(painter, box, Tone.CAUTION, palette)
    elif state is StepState.WAITING:
        paint_mark(painter, box, Tone.QUIET, palette)
    else:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(palette.tone(Tone.MANDATORY).ink))
        inner = box.adjusted(2, 1, -1, -1)
        tip = QPointF(inner.right(), inner.center().y())
        painter.drawPolygon(QPolygonF([inner.topLeft(), tip, inner.bottomLeft()]))


def _octagon(box: QRectF) -> QPolygonF:
    radius, centre = box.width() / 2 / math.cos(math.pi / 8), box.center()
    angles = [math.pi / 8 + k * math.pi / 4 for k in range(8)]
    return QPolygonF([centre + QPointF(radius * math.cos(a), radius * math.sin(a)) for a in angles])


def _triangle(box: QRectF) -> QPolygonF:
    top = QPointF(box.center().x(), box.top() + 0.04 * box.height())
    low = box.bottom() - 0.06 * box.height()
    return QPolygonF([top, QPointF(box.right(), low), QPointF(box.left(), low)])


def _stroke(painter: QPainter, box: QRectF, top: float, end: float, dot: float) -> None:
    x = box.center().x()
    painter.drawLine(
        QPointF(x, box.top() + top * box.height()), QPointF(x, box.top() + end * box.height())
    )
    painter.drawPoint(QPointF(x, box.top() + dot * box.height()))


def _tick(painter: QPainter, box: QRectF) -> None:
    points = [(0.27, 0.52), (0.44, 0.69), (0.74, 0.34)]
    painter.drawPolyline(
        [box.topLeft() + QPointF(x * box.width(), y * box.height()) for x, y in points]
    )


class Mark(QWidget):
    """A mark that stands beside a text. The text says the same in words.

    One that is large already need not grow with the text.
    """

    def __init__(
        self, size: int = 22, *, grows: bool = True, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._tone = Tone.QUIET
        self._state: StepState | None = None
        self._normal = False
        self._usual, self._size, self._drop, self._grows = size, size, 0, grows
        self.rescale()

    def rescale(self) -> None:
        """Take the size of the text size in force."""
        self._size = px(self._usual) if self._grows else self._usual
        self.setFixedSize(QSize(self._size, self._size + px(self._drop)))

    def set_drop(self, pixels: int) -> None:
        """Move down, beside the first line of large words."""
        self._drop = pixels
        self.rescale()

    def set_tone(self, tone: Tone) -> None:
        """Show a meaning."""
        if (tone, None) != (self._tone, self._state):
            self._tone, self._state = tone, None
            self.setAccessibleName(SPOKEN[tone])
            self.update()

    def set_normal(self, normal: bool) -> None:
        """Draw what is as it should be grey, not as a judged pass."""
        if normal != self._normal:
            self._normal = normal
            self.update()

    def set_state(self, state: StepState) -> None:
        """Show where a step stands."""
        if state is not self._state:
            self._state = state
            self.setAccessibleName(state)
            self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        painter = QPainter(self)
        drop = self.height() - self._size
        box, palette = QRectF(0, drop, self._size, self._size), palette_of(self)
        if self._state is not None:
            paint_step(painter, box, self._state, palette)
        elif self._normal and self._tone is Tone.GOOD:
            paint_normal(painter, box, palette)
        else:
            paint_mark(painter, box, self._tone, palette)
