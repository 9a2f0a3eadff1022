"""What every plot has: nothing to grab, the colours of the window, levels in plain words."""

import pyqtgraph as pg
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.theme import DARK, LIGHT
from benchstation.ui.widgets.plots.plot import TICK_PX, level, restyle, still_plot


@pytest.fixture(params=[DARK, LIGHT], ids=["dark", "light"])
def host(request, shown):
    return shown(QWidget(), theme=request.param)


def test_a_plot_takes_no_mouse_and_no_keyboard(host):
    plot = still_plot(host)
    assert plot.testAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
    assert plot.focusPolicy() is Qt.FocusPolicy.NoFocus
    assert plot.getPlotItem().vb.state["mouseEnabled"] == [False, False]


def test_it_has_the_colours_of_the_window(host):
    plot = still_plot(host)
    font = restyle(plot, host)
    theme = host.window().theme
    assert plot.backgroundBrush().color().name() == theme.panel
    assert plot.getPlotItem().getAxis("left").textPen().color().name() == theme.quiet
    assert font.pixelSize() == TICK_PX


def test_a_level_is_dashed_and_says_its_words_as_they_are(host):
    plot = still_plot(host)
    line = level(host, "{value} <b>rating</b>", 80.0, Tone.DANGER, 0.01)
    plot.getPlotItem().addItem(line)
    (words,) = (i for i in line.childItems() if isinstance(i, pg.InfLineLabel))
    assert words.toPlainText() == "{value} <b>rating</b>"
    assert line.value() == 80.0
    assert line.pen.style() is Qt.PenStyle.DashLine
    assert line.pen.color().name() == host.window().theme.tone(Tone.DANGER).ink
