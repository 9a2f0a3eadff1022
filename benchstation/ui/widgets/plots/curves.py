"""Curves over one axis: words at the end of each line, each line in its own stroke."""

from typing import Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.quantities.notation import tick_text
from benchstation.screens.model.elements import CurveView
from benchstation.ui.shell.labels import label, palette_of, sized
from benchstation.ui.shell.layouts import down
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.plots.plot import TICK_PX, level, restyle, still_plot
from benchstation.ui.widgets.plots.trace import stepped_range
from benchstation.ui.widgets.readout.lanes import tick_values
from benchstation.ui.widgets.readout.spread import spread

LEAST_PX = 150
STROKES = (Qt.PenStyle.DashLine, Qt.PenStyle.SolidLine, Qt.PenStyle.DashDotLine)
LINE_PX, GAP_PX, TICK_ROOM_PX = TICK_PX + 3, 8, 55


class Curves(QWidget):
    """One plot."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        # What a plot would like to have is what it has now; it takes what is left instead.
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        self.setMinimumHeight(px(LEAST_PX))
        box = down(self, spacing=2)
        self.title = label("", "strong", wrap=True)
        box.addWidget(self.title)
        self.plot = still_plot(self)
        box.addWidget(self.plot, 1)
        self.view: CurveView | None = None
        self.words: list[tuple[Any, float, float]] = []
        """The words at the lines' ends, and where each line ends."""
        self.items: list[Any] = []
        self.plot.getPlotItem().vb.sigResized.connect(self._place_words)
        restyle(self.plot, self)

    def hasHeightForWidth(self) -> bool:
        """Return False: a title on two lines takes its room from the plot."""
        return False

    def show_curves(self, view: CurveView) -> None:
        """Draw these curves; does nothing when they are the ones that stand there."""
        if self.view is not None and _same(view, self.view):
            return
        self.view = view
        self.title.setText(view.title)
        names = ", ".join(name for name, _, _ in view.lines)
        self.setAccessibleName(f"{view.title} over {view.x_label}: {names}")
        self._draw()

    def _draw(self) -> None:
        view, item, palette = self.view, self.plot.getPlotItem(), palette_of(self)
        if view is None:
            return
        for old in self.items:
            item.removeItem(old)
        self.items, self.words = [], []
        item.getAxis("bottom").setLabel(view.x_label, **{"color": palette.quiet})
        for count, (words, tone, values) in enumerate(view.lines):
            ink = palette.tone(tone).ink
            pen = pg.mkPen(ink, width=2, style=STROKES[count % len(STROKES)])
            self._add(pg.PlotDataItem(view.x, values, pen=pen, antialias=True, connect="finite"))
            known = np.flatnonzero(np.isfinite(values))
            if len(known):
                text = pg.TextItem("", color=ink, anchor=(0, 0.5))
                # As plain text: a name may hold what looks like markup.
                text.setPlainText(words)
                text.setFont(sized(self.font(), TICK_PX))
                self._add(text)
                self.words.append((text, float(view.x[known[-1]]), float(values[known[-1]])))
        for words, value, tone in view.marks:
            self._add(level(self, words, value, tone, 0.01))
        self._show_range(view)
        self._place_words()

    def _add(self, made: Any) -> None:
        self.plot.getPlotItem().addItem(made, ignoreBounds=True)
        self.items.append(made)

    def _show_range(self, view: CurveView) -> None:
        finite = [v for _, _, values in view.lines for v in values[np.isfinite(values)]]
        ends = [float(v) for v in finite] + [value for _, value, _ in view.marks]
        low, high = stepped_range(min(ends, default=0.0), max(ends, default=1.0))
        self.plot.getPlotItem().setYRange(low, high, padding=0.0)

    def _place_words(self) -> None:
        """Leave room for the words at the right, and keep them from covering each other."""
        view, item = self.view, self.plot.getPlotItem()
        if view is None or not len(view.x):
            return
        width, height = item.vb.width(), item.vb.height()
        metrics = QFontMetrics(sized(self.font(), TICK_PX))
        texts = [text.toPlainText() for text, _, _ in self.words]
        room = max((metrics.horizontalAdvance(t) for t in texts), default=0) + 2 * GAP_PX
        start, end = float(view.x[0]), float(view.x[-1])
        share = max(0.3, 1.0 - room / max(1.0, width))
        item.setXRange(start, start + (end - start) / share, padding=0.0)
        ticks = tick_values(start, end, max(1, round(share * width / px(TICK_ROOM_PX))))
        step = ticks[1] - ticks[0] if len(ticks) > 1 else 1.0
        # None beyond the end of the lines, where only words stand.
        item.getAxis("bottom").setTicks([[(x, tick_text(x, step)) for x in ticks]])
        low, high = item.vb.viewRange()[1]
        per_pixel = (high - low) / max(1.0, height)
        ordered = sorted(self.words, key=lambda word: -word[2])
        wanted = [(high - y) / per_pixel for _, _, y in ordered]
        sizes = [float(px(LINE_PX))] * len(ordered)
        centres = spread(wanted, sizes, 0.0, height, 0.0)
        across = (end - start) / share / max(1.0, width)
        for (text, x, _), centre in zip(ordered, centres, strict=True):
            text.setPos(x + GAP_PX * across, high - centre * per_pixel)

    def rescale(self) -> None:
        """Draw anew in the text size in force."""
        self.setMinimumHeight(px(LEAST_PX))
        restyle(self.plot, self)
        self._draw()

    def changeEvent(self, event: QEvent) -> None:
        """Take on another light."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.StyleChange:
            restyle(self.plot, self)
            self._draw()


def _same(one: CurveView, other: CurveView) -> bool:
    """Return True when two views show the same: arrays do not compare as a whole by themselves."""
    if (one.title, one.x_label, one.marks) != (other.title, other.x_label, other.marks):
        return False
    if [line[:2] for line in one.lines] != [line[:2] for line in other.lines]:
        return False
    pairs = [(one.x, other.x)]
    pairs += [(a[2], b[2]) for a, b in zip(one.lines, other.lines, strict=True)]
    return all(np.array_equal(a, b, equal_nan=True) for a, b in pairs)
