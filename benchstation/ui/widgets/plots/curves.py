"""Curves over one axis: words at the end of each line, each line in its own stroke."""

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from benchstation.quantities.notation import tick_text
from benchstation.screens.model.elements import CurveView
from benchstation.ui.shell.labels import label, palette_of
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.plots.plot import level
from benchstation.ui.widgets.plots.trace import stepped_range
from benchstation.ui.widgets.plots.worded_plot import WordedPlot
from benchstation.ui.widgets.readout.lanes import tick_values

STROKES = (Qt.PenStyle.DashLine, Qt.PenStyle.SolidLine, Qt.PenStyle.DashDotLine)
GAP_PX, TICK_ROOM_PX = 8, 55


class Curves(WordedPlot):
    """One plot."""

    least_px = 150

    def __init__(self, parent: QWidget | None = None) -> None:
        self.view: CurveView | None = None
        super().__init__(label("", "strong", wrap=True), 2, parent)

    def show_curves(self, view: CurveView) -> None:
        """Draw these curves; does nothing when they are the ones that stand there."""
        if self.view is not None and _same(view, self.view):
            return
        self.view = view
        self.title.setText(view.title)
        names = ", ".join(name for name, _, _ in view.lines)
        self.setAccessibleName(f"{view.title} over {view.x_label}: {names}")
        self.draw()

    def draw(self) -> None:
        """Draw all anew."""
        view, item, palette = self.view, self.plot.getPlotItem(), palette_of(self)
        if view is None:
            return
        self.clear()
        item.getAxis("bottom").setLabel(view.x_label, **{"color": palette.quiet})
        for count, (words, tone, values) in enumerate(view.lines):
            ink = palette.tone(tone).ink
            pen = pg.mkPen(ink, width=2, style=STROKES[count % len(STROKES)])
            self.add(pg.PlotDataItem(view.x, values, pen=pen, antialias=True, connect="finite"))
            known = np.flatnonzero(np.isfinite(values))
            if len(known):
                self.add_words(words, ink, float(view.x[known[-1]]), float(values[known[-1]]))
        for words, value, tone in view.marks:
            self.add(level(self, words, value, tone, 0.01))
        self._show_range(view)
        self.place_words()

    def _show_range(self, view: CurveView) -> None:
        finite = [v for _, _, values in view.lines for v in values[np.isfinite(values)]]
        ends = [float(v) for v in finite] + [value for _, value, _ in view.marks]
        low, high = stepped_range(min(ends, default=0.0), max(ends, default=1.0))
        self.plot.getPlotItem().setYRange(low, high, padding=0.0)

    def place_words(self) -> None:
        """Leave room for the words at the right, and keep them from covering each other."""
        view, item = self.view, self.plot.getPlotItem()
        if view is None or not len(view.x):
            return
        width, room = item.vb.width(), self.words_px() + 2 * GAP_PX
        start, end = float(view.x[0]), float(view.x[-1])
        share = max(0.3, 1.0 - room / max(1.0, width))
        item.setXRange(start, start + (end - start) / share, padding=0.0)
        ticks = tick_values(start, end, max(1, round(share * width / px(TICK_ROOM_PX))))
        step = ticks[1] - ticks[0] if len(ticks) > 1 else 1.0
        # None beyond the end of the lines, where only words stand.
        item.getAxis("bottom").setTicks([[(x, tick_text(x, step)) for x in ticks]])
        self.set_words_apart(GAP_PX * (end - start) / share / max(1.0, width))


def _same(one: CurveView, other: CurveView) -> bool:
    """Return True when two views show the same: arrays do not compare as a whole by themselves."""
    if (one.title, one.x_label, one.marks) != (other.title, other.x_label, other.marks):
        return False
    if [line[:2] for line in one.lines] != [line[:2] for line in other.lines]:
        return False
    pairs = [(one.x, other.x)]
    pairs += [(a[2], b[2]) for a, b in zip(one.lines, other.lines, strict=True)]
    return all(np.array_equal(a, b, equal_nan=True) for a, b in pairs)
