"""Values in their order with their limits: shapes and words tell points apart, not only colour."""

from typing import Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPoint, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent
from PySide6.QtWidgets import QWidget

from benchstation.quantities.notation import tick_text
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.quality import ChartPoint, ControlChartView
from benchstation.ui.shell.labels import label, palette_of
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.plots.trace import stepped_range
from benchstation.ui.widgets.plots.worded_plot import WordedPlot
from benchstation.ui.widgets.readout.lanes import tick_values

SYMBOLS = {"circle": "o", "square": "s", "triangle": "t1"}
AXIS_PX, GAP_PX, TICK_ROOM_PX = 58, 6, 60
STROKES = {
    Tone.PLAIN: Qt.PenStyle.DashLine,
    Tone.QUIET: Qt.PenStyle.SolidLine,
    Tone.DANGER: Qt.PenStyle.DashDotLine,
}
KEYS = {
    Qt.Key.Key_Left: -1,
    Qt.Key.Key_Right: 1,
    Qt.Key.Key_PageUp: -10,
    Qt.Key.Key_PageDown: 10,
}


class ControlChart(WordedPlot):
    """One chart. A click or the arrows choose a point; Enter asks for its record."""

    chosen = Signal(int)
    wanted = Signal(int)
    least_px = 110

    def __init__(self, parent: QWidget | None = None) -> None:
        self.view: ControlChartView | None = None
        self.points: tuple[ChartPoint, ...] = ()
        self.place = -1
        self._cursor: Any = None
        self._room = 0
        super().__init__(label("", "small"), 0, parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def show_chart(self, view: ControlChartView, points: tuple[ChartPoint, ...]) -> None:
        """Draw these values; the newest point is chosen."""
        self.view, self.points = view, points
        self.title.setText(f"{view.title}, {view.unit}")
        said = ", ".join(words for words, _, _ in view.lines)
        self.setAccessibleName(f"{view.title} in {view.unit}: {len(points)} points; {said}")
        self.place = len(points) - 1
        self.draw()

    def choose(self, place: int) -> None:
        """Mark a point."""
        if self.view is None or not self.points:
            return
        self.place = max(0, min(place, len(self.points) - 1))
        if self._cursor is not None:
            self._cursor.setValue(self.place + 1)
        self.setAccessibleDescription(self.points[self.place].words)

    # --- drawing ---------------------------------------------------------------------------------

    def draw(self) -> None:
        """Draw all anew."""
        view, item, palette = self.view, self.plot.getPlotItem(), palette_of(self)
        if view is None:
            return
        self.clear()
        x = np.arange(1, len(view.values) + 1, dtype=float)
        thin = pg.mkPen(palette.trace, width=1)
        self.add(pg.PlotDataItem(x, view.values, pen=thin, antialias=True, connect="finite"))
        kinds: dict[tuple[str, bool], list[int]] = {}
        for n, point in enumerate(self.points):
            if np.isfinite(view.values[n]):
                kinds.setdefault((point.shape, n in view.beyond), []).append(n)
        for (shape, fired), places in kinds.items():
            ink = palette.tone(Tone.CAUTION).ink if fired else palette.trace
            # One that a rule ends at is larger and hollow, so that it shows without colour too.
            brush = pg.mkBrush(palette.panel) if fired else pg.mkBrush(ink)
            self.add(
                pg.ScatterPlotItem(
                    x=x[places],
                    y=view.values[places],
                    symbol=SYMBOLS[shape],
                    size=px(12 if fired else 8 if shape != "circle" else 6),
                    pen=pg.mkPen(ink, width=2.5 if fired else 1),
                    brush=brush,
                    antialias=True,
                )
            )
        for words, value, tone in view.lines:
            ink = palette.tone(tone).ink
            pen = pg.mkPen(ink, width=1, style=STROKES[tone])
            # It ends where its words begin.
            ends = [0.5, len(view.values) + 0.5]
            self.add(pg.PlotDataItem(ends, [value, value], pen=pen))
            self.add_words(words, ink, max(1, len(view.values)) + 0.5, value)
        self._cursor = pg.InfiniteLine(self.place + 1, angle=90, movable=False)
        self._cursor.setPen(pg.mkPen(palette.focus, width=2))
        self._cursor.setZValue(-5)
        self.add(self._cursor)
        finite = view.values[np.isfinite(view.values)]
        range_ends = [*finite.tolist(), *(value for _, value, _ in view.lines)]
        low, high = stepped_range(min(range_ends, default=0.0), max(range_ends, default=1.0))
        item.setYRange(low, high, padding=0.0)
        item.getAxis("left").setWidth(px(AXIS_PX))
        self.place_words()

    def keep_room(self, pixels: int) -> None:
        """Keep at least so much room for words, so that charts below each other line up."""
        self._room = pixels
        self.place_words()

    def place_words(self) -> None:
        """Leave room for the words at the right, and keep them from covering each other."""
        view, item = self.view, self.plot.getPlotItem()
        if view is None or not self.words:
            return
        width = item.vb.width()
        room = max(self._room, self.words_px()) + 2 * GAP_PX
        count = max(1, len(view.values))
        share = max(0.4, 1.0 - room / max(1.0, width))
        reach = (count + 0.5) / share
        item.setXRange(0.5, 0.5 + reach, padding=0.0)
        about = max(1, round(share * width / px(TICK_ROOM_PX)))
        ticks = [x for x in tick_values(1.0, float(count), about) if x == round(x) and x >= 1]
        item.getAxis("bottom").setTicks([[(x, tick_text(x, 1.0)) for x in ticks]])
        self.set_words_apart(GAP_PX * reach / max(1.0, width))

    # --- choosing --------------------------------------------------------------------------------

    def place_at(self, x: float) -> int:
        """Return the place of the point nearest to a horizontal position in the widget."""
        inside = self.plot.mapFrom(self, QPoint(round(x), 0))
        scene = self.plot.mapToScene(inside)
        value = self.plot.getPlotItem().vb.mapSceneToView(scene).x()
        return max(0, min(round(float(value)) - 1, len(self.points) - 1))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Choose the nearest point."""
        if event.button() is Qt.MouseButton.LeftButton and self.points:
            self.setFocus(Qt.FocusReason.MouseFocusReason)
            self.chosen.emit(self.place_at(event.position().x()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move with the arrows; Enter asks for the record; the rest is the page's."""
        key = Qt.Key(event.key())
        if event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier or not self.points:
            event.ignore()
        elif key in KEYS:
            place = self.place + KEYS[key]
            self.chosen.emit(max(0, min(place, len(self.points) - 1)))
        elif key in (Qt.Key.Key_Home, Qt.Key.Key_End):
            self.chosen.emit(0 if key is Qt.Key.Key_Home else len(self.points) - 1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if not event.isAutoRepeat():
                self.wanted.emit(self.place)
        else:
            event.ignore()
