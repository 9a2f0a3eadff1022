"""Lanes: how far it has come, the window to end in, and the dashed line where it will land."""

import math

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.quantities.notation import significant, tick_text
from benchstation.screens.model.elements import LaneView, Tone
from benchstation.ui.shell.labels import palette_of
from benchstation.ui.shell.layouts import down
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import SMALL_PX, Palette

TITLE_H, BAR_H, TICK_H, SIDE = 17, 18, 14, 2
TICKS_ABOUT = 6


def tick_values(low: float, high: float, about: int = TICKS_ABOUT) -> list[float]:
    """Return round numbers (1, 2 or 5 times a power of ten apart) from ``low`` to ``high``."""
    span = high - low
    if not (math.isfinite(span) and span > 0):
        return []
    raw = span / about
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= raw * (1 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [k * step for k in range(first, last + 1)]


def lane_px() -> int:
    """Return the height of a lane."""
    return px(TITLE_H) + BAR_H + px(TICK_H)


def chosen_lanes(lanes: tuple[LaneView, ...], most: int) -> tuple[LaneView, ...]:
    """Return at most so many lanes: the finest that still holds the value comes first."""
    if len(lanes) <= most:
        return lanes
    if most <= 0:
        return ()
    holding = [x for x in lanes if x.value is not None and x.low <= x.value <= x.high]
    return (holding[-1],) if holding else lanes[:1]


class Lane(QWidget):
    """One lane."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._lane: LaneView | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.rescale()

    def rescale(self) -> None:
        """Take the height of the text size in force."""
        self.setFixedHeight(lane_px())

    @property
    def shown(self) -> LaneView | None:
        """Return what stands there."""
        return self._lane

    def show_lane(self, lane: LaneView) -> None:
        """Show a lane; does nothing when it is the one that stands there."""
        if lane == self._lane:
            return
        self._lane = lane
        self.setAccessibleName(f"{lane.title}, {lane.unit}")
        self.setAccessibleDescription(self._spoken(lane))
        self.update()

    @staticmethod
    def _spoken(lane: LaneView) -> str:
        said = ["no value" if lane.value is None else f"{significant(lane.value, 4)} {lane.unit}"]
        if lane.accept_low is not None and lane.accept_high is not None:
            said.append(
                f"accept {significant(lane.accept_low, 4)} to {significant(lane.accept_high, 4)}"
            )
        if lane.landing is not None:
            u = f" ± {significant(lane.landing_u, 2)}" if lane.landing_u > 0 else ""
            said.append(f"will end at {significant(lane.landing, 4)}{u}")
        return ", ".join(said)

    def sizeHint(self) -> QSize:
        """Ask for a readable width."""
        return QSize(400, self.height())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw title, bar, window, value, landing and ticks."""
        lane = self._lane
        if lane is None or not lane.high > lane.low:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        font = QFont(self.font())
        font.setPixelSize(px(SMALL_PX))
        painter.setFont(font)
        bar = QRectF(SIDE, px(TITLE_H), self.width() - 2 * SIDE, BAR_H)
        self._title(painter, palette, lane)
        painter.setPen(QPen(QColor(palette.edge), 1.5))
        painter.setBrush(QColor(palette.well))
        painter.drawRoundedRect(bar, 4, 4)
        painter.save()
        painter.setClipRect(bar.adjusted(1, 1, -1, -1))
        self._window(painter, palette, lane, bar)
        self._value(painter, palette, lane, bar)
        self._marks(painter, palette, lane, bar)
        painter.restore()
        self._beyond(painter, palette, lane, bar)
        self._landing(painter, palette, lane, bar)
        self._ticks(painter, palette, lane, bar)

    def _x(self, value: float, lane: LaneView, bar: QRectF) -> float:
        part = (value - lane.low) / (lane.high - lane.low)
        return bar.left() + min(1.0, max(0.0, part)) * bar.width()

    def _title(self, painter: QPainter, palette: Palette, lane: LaneView) -> None:
        painter.setPen(QColor(palette.quiet))
        words = f"{lane.title}, {lane.unit}"
        if lane.landing is not None:
            words += "      dashed: where it will end"
            words += ", with its U" if lane.landing_u > 0 else ""
        box = QRectF(SIDE, 0, self.width() - 2 * SIDE, px(TITLE_H))
        painter.drawText(box, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, words)

    def _window(self, painter: QPainter, palette: Palette, lane: LaneView, bar: QRectF) -> None:
        if lane.accept_low is None or lane.accept_high is None:
            return
        good = palette.tone(Tone.GOOD)
        left, right = (self._x(v, lane, bar) for v in (lane.accept_low, lane.accept_high))
        box = QRectF(left, bar.top(), max(3.0, right - left), bar.height())
        painter.fillRect(box, QColor(good.wash))
        painter.setPen(QPen(QColor(good.ink), 2))
        painter.drawLine(box.topLeft(), box.bottomLeft())
        painter.drawLine(box.topRight(), box.bottomRight())

    def _value(self, painter: QPainter, palette: Palette, lane: LaneView, bar: QRectF) -> None:
        if lane.value is None or not math.isfinite(lane.value):
            return
        blue = palette.tone(Tone.MANDATORY)
        end = self._x(lane.value, lane, bar)
        middle = QRectF(bar.left(), bar.top() + 5, end - bar.left(), bar.height() - 10)
        painter.fillRect(middle, QColor(blue.fill))
        painter.setPen(QPen(QColor(palette.text), 3))
        painter.drawLine(QPointF(end, bar.top()), QPointF(end, bar.bottom()))

    def _marks(self, painter: QPainter, palette: Palette, lane: LaneView, bar: QRectF) -> None:
        metrics = QFontMetricsF(painter.font())
        for words, value, tone in lane.marks:
            x, ink = self._x(value, lane, bar), QColor(palette.tone(tone).ink)
            painter.setPen(QPen(ink, 2))
            painter.drawLine(QPointF(x, bar.top()), QPointF(x, bar.bottom()))
            box = metrics.boundingRect(words).adjusted(-3, 0, 3, 0)
            box.moveCenter(QPointF(0, bar.center().y()))
            box.moveRight(x - 4)
            painter.fillRect(box, QColor(palette.well))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)

    def _beyond(self, painter: QPainter, palette: Palette, lane: LaneView, bar: QRectF) -> None:
        """Point out of the lane when the value lies outside of it."""
        if lane.value is None or lane.low <= lane.value <= lane.high:
            return
        right = lane.value > lane.high
        edge, way = (bar.right(), -1) if right else (bar.left(), 1)
        y = bar.center().y()
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(palette.text))
        back = edge + way * 14
        corners = [QPointF(edge, y), QPointF(back, y - 8), QPointF(back, y + 8)]
        painter.drawPolygon(QPolygonF(corners))

    def _landing(self, painter: QPainter, palette: Palette, lane: LaneView, bar: QRectF) -> None:
        if lane.landing is None or not math.isfinite(lane.landing):
            return
        x = self._x(lane.landing, lane, bar)
        low, high = (self._x(lane.landing + s * lane.landing_u, lane, bar) for s in (-1, 1))
        if high - low > 6:
            painter.setPen(QPen(QColor(palette.text), 2))
            y = bar.center().y()
            painter.drawLine(QPointF(low, y), QPointF(high, y))
            for end in (low, high):
                painter.drawLine(QPointF(end, y - 5), QPointF(end, y + 5))
        pen = QPen(QColor(palette.text), 3, Qt.PenStyle.CustomDashLine)
        pen.setDashPattern([2.0, 1.3])
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        painter.setPen(pen)
        painter.drawLine(QPointF(x, bar.top() - 4), QPointF(x, bar.bottom() + 4))

    def _ticks(self, painter: QPainter, palette: Palette, lane: LaneView, bar: QRectF) -> None:
        values = tick_values(lane.low, lane.high)
        step = values[1] - values[0] if len(values) > 1 else 1.0
        painter.setPen(QColor(palette.quiet))
        for value in values:
            x = self._x(value, lane, bar)
            painter.drawLine(QPointF(x, bar.bottom()), QPointF(x, bar.bottom() + 3))
            text = tick_text(value, step)
            width = painter.fontMetrics().horizontalAdvance(text)
            left = min(max(0.0, x - width / 2), self.width() - width - 1.0)
            painter.drawText(QPointF(left, bar.bottom() + px(TICK_H) - 3), text)


class Lanes(QWidget):
    """Lanes above each other."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._box = down(self, spacing=0)
        self.lanes: list[Lane] = []

    def show_lanes(self, lanes: tuple[LaneView, ...], most: int = 2) -> None:
        """Show these lanes, or where there is no room for all, those that say the most."""
        lanes = chosen_lanes(lanes, most)
        while len(self.lanes) < len(lanes):
            self.lanes.append(Lane(self))
            self._box.addWidget(self.lanes[-1])
        for widget, lane in zip(self.lanes, lanes, strict=False):
            widget.show_lane(lane)
        for count, widget in enumerate(self.lanes):
            widget.setVisible(count < len(lanes))
        self.setVisible(bool(lanes))
