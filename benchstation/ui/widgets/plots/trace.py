"""A trace on a plot that stays cheap: few points, thin pen, and an axis that moves in steps."""

import math
from typing import Any

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import FloatArray, Tone, TraceView
from benchstation.ui.shell.labels import label, palette_of
from benchstation.ui.shell.layouts import down
from benchstation.ui.widgets.plots.plot import level, restyle, still_plot
from benchstation.ui.widgets.plots.time_axis import MINUTE_S, TimeAxis, time_text

MOST_POINTS = 6000
HEADROOM, MARK_STEP, LONG_S = 0.08, 0.2, 600.0


def thinned(seconds: FloatArray, values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return at most 6000 points that keep every peak: lowest and highest of each bin, in order.

    A bin without any finite value stays a gap (NaN).
    """
    count = len(values)
    if count <= MOST_POINTS:
        return seconds, values
    bins = MOST_POINTS // 2 - 1
    size = math.ceil(count / bins)
    bins = count // size
    body = values[: bins * size].reshape(bins, size)
    low, high = body.argmin(axis=1), body.argmax(axis=1)
    # Both point at the first NaN of a bin that has one; only such bins are looked at again.
    holes = np.flatnonzero(np.isnan(body[np.arange(bins), low]))
    if len(holes):
        some = body[holes]
        low[holes] = np.where(np.isnan(some), np.inf, some).argmin(axis=1)
        high[holes] = np.where(np.isnan(some), -np.inf, some).argmax(axis=1)
    first = np.arange(bins) * size
    kept = np.sort(np.stack([first + low, first + high], axis=1), axis=1).ravel()
    rest, known = bins * size, np.flatnonzero(np.isfinite(values[bins * size :]))
    if len(known):
        tail = values[rest:][known]
        ends = {int(known[tail.argmin()]), int(known[tail.argmax()])}
        kept = np.concatenate([kept, rest + np.array(sorted(ends))])
    if kept[-1] != count - 1:
        kept = np.append(kept, count - 1)
    return seconds[kept], values[kept]


def stepped_range(low: float, high: float) -> tuple[float, float]:
    """Return a range around ``low`` to ``high`` whose ends are round, so that it seldom changes."""
    span = max(high - low, abs(high) * 1e-3, 1e-6)
    step = 10.0 ** math.floor(math.log10(span))
    step *= next(m for m in (0.1, 0.2, 0.5, 1.0) if span / (m * step) <= 12)
    room = HEADROOM * span
    return math.floor((low - room) / step) * step, math.ceil((high + room) / step) * step


class Trace(QWidget):
    """A trace with its marks, against seconds before now."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        box = down(self, spacing=2)
        self.title = label("", "small")
        box.addWidget(self.title)
        self.plot = still_plot(self, TimeAxis())
        item = self.plot.getPlotItem()
        self.curve = pg.PlotDataItem(antialias=False, connect="finite")
        item.addItem(self.curve)
        # Two pixels can be seen from afar; drawn as one path they would cost half a second.
        self.curve.curve.setSegmentedLineMode("on")
        self.ahead = pg.PlotDataItem(antialias=False)
        item.addItem(self.ahead)
        self.lines: list[Any] = []
        self.band: Any = None
        self._band_of: tuple[tuple[float, float] | None, Tone] | None = None
        self._shown_marks: tuple[Any, ...] = ()
        self._ranges: tuple[float, float, float] | None = None
        self._ends: tuple[float, ...] = ()
        box.addWidget(self.plot, 1)
        self.view: TraceView | None = None
        self._restyle()

    @property
    def drawn_points(self) -> int:
        """Return how many points are drawn."""
        seconds = self.curve.getData()[0]
        return 0 if seconds is None else len(seconds)

    def show_trace(self, view: TraceView) -> None:
        """Draw this trace."""
        step = MINUTE_S if view.span_s >= LONG_S else 1.0
        span = time_text(view.span_s, step)
        self.title.setText(f"{view.title}, {view.unit}   {span}")
        self.setAccessibleName(f"trace of {view.title} in {view.unit}")
        if view.marks != self._shown_marks:
            self._show_marks(view)
        if self.view is None or view.values is not self.view.values:
            seconds, values = thinned(view.seconds, view.values)
            self.curve.setData(seconds, values)
            # Every peak is among the points that are drawn.
            finite = values[np.isfinite(values)]
            self._ends = (float(finite.min()), float(finite.max())) if len(finite) else ()
        self.view = view
        self._show_band(view)
        self.ahead.setData(*(view.forecast if view.forecast is not None else ([], [])))
        self._show_range(view)

    def _show_band(self, view: TraceView) -> None:
        """Lay the window to end in behind the trace."""
        if (view.band, view.band_tone) == self._band_of:
            return
        item = self.plot.getPlotItem()
        if self.band is not None:
            item.removeItem(self.band)
            self.band = None
        self._band_of = view.band, view.band_tone
        if view.band is not None:
            good = palette_of(self).tone(view.band_tone)
            self.band = pg.LinearRegionItem(
                view.band,
                orientation="horizontal",
                movable=False,
                brush=pg.mkBrush(good.wash),
                pen=pg.mkPen(good.ink),
            )
            self.band.setZValue(-10)
            item.addItem(self.band)

    def _show_range(self, view: TraceView) -> None:
        ends = [value for _, value, _ in view.marks if math.isfinite(value)]
        ends += self._ends
        low, high = stepped_range(min(ends, default=0.0), max(ends, default=1.0))
        ahead = float(view.forecast[0][-1]) if view.forecast is not None else 0.0
        wanted = (view.span_s + ahead, low, high)
        if wanted == self._ranges:
            return
        self._ranges = wanted
        item = self.plot.getPlotItem()
        start = (
            float(view.seconds[0]) if len(view.seconds) and view.seconds[0] >= 0 else -view.span_s
        )
        ahead = float(view.forecast[0][-1]) if view.forecast is not None else 0.0
        item.setXRange(start, start + view.span_s + ahead, padding=0.0)
        item.setYRange(low, high, padding=0.0)

    def _show_marks(self, view: TraceView) -> None:
        item = self.plot.getPlotItem()
        for line in self.lines:
            item.removeItem(line)
        self.lines, self._shown_marks = [], view.marks
        for count, (words, value, tone) in enumerate(view.marks):
            # Each a little further right, so that near marks do not cover each other's words.
            line = level(self, words, value, tone, 0.005 + MARK_STEP * (count % 4))
            item.addItem(line)
            self.lines.append(line)

    def _restyle(self) -> None:
        restyle(self.plot, self)
        self.curve.setPen(pg.mkPen(palette_of(self).trace, width=2))
        self.ahead.setPen(pg.mkPen(palette_of(self).text, width=2, style=Qt.PenStyle.DashLine))
        self._band_of = None
        if self.view is not None:
            self._shown_marks = ()
            self._show_marks(self.view)
            self._show_band(self.view)

    def rescale(self) -> None:
        """Draw anew in the text size in force."""
        self._restyle()

    def changeEvent(self, event: QEvent) -> None:
        """Take on another light."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.StyleChange:
            self._restyle()
