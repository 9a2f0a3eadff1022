"""What every plot here has: nothing to grab, the house's colours, and levels in plain words.

Importing this imports the plotting library, which takes half a second: do it late.
"""

from typing import Any

import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QFont
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import palette_of, sized
from benchstation.ui.shell.theme import SMALL_PX

TICK_PX = SMALL_PX - 1


def still_plot(parent: QWidget, bottom: pg.AxisItem | None = None) -> pg.PlotWidget:
    """Make a plot that no mouse moves: what it shows stays where it is."""
    axes = {} if bottom is None else {"bottom": bottom}
    plot = pg.PlotWidget(parent, axisItems=axes)
    plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    plot.viewport().setFocusPolicy(Qt.FocusPolicy.NoFocus)
    plot.setFrameShape(pg.PlotWidget.Shape.NoFrame)
    item = plot.getPlotItem()
    item.setMenuEnabled(False)
    item.setMouseEnabled(False, False)
    item.hideButtons()
    item.showGrid(x=False, y=True, alpha=0.18)
    plot.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
    return plot


def restyle(plot: pg.PlotWidget, widget: QWidget) -> QFont:
    """Return a plot the colours of the window that ``widget`` is in; returns its small font."""
    palette = palette_of(widget)
    plot.setBackground(palette.panel)
    font = sized(widget.font(), TICK_PX)
    for name in ("left", "bottom"):
        axis = plot.getPlotItem().getAxis(name)
        axis.setTextPen(palette.quiet)
        axis.setPen(palette.edge)
        axis.setTickFont(font)
    return font


def level(widget: QWidget, words: str, value: float, tone: Tone, place: float) -> Any:
    """Make a dashed level with its words at a share ``place`` of the width."""
    palette = palette_of(widget)
    ink = palette.tone(tone).ink
    pen = pg.mkPen(ink, width=1, style=Qt.PenStyle.DashLine)
    line = pg.InfiniteLine(value, angle=0, movable=False, pen=pen)
    # In its own line: beside it the words of one level would lie on the line of the next.
    text = pg.InfLineLabel(
        line, "", position=place, anchors=[(0, 0.5), (0, 0.5)], color=ink, fill=palette.panel
    )
    # The label's own format would read braces in the words.
    text.format = words.replace("{", "{{").replace("}", "}}")
    text.valueChanged()
    text.setFont(sized(widget.font(), TICK_PX))
    return line
