"""Curves: words at each line's end, levels dashed, a line that breaks off ends where it does."""

from dataclasses import replace

import numpy as np
import pyqtgraph as pg
import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QApplication

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.theme import LIGHT
from benchstation.ui.widgets.plots.curves import Curves
from benchstation.ui.widgets.plots.worded_plot import LINE_PX
from tests.ui.fake_specifications import curves

PRESSURE, FORCE = curves(262)


@pytest.fixture
def made(shown):
    plot = shown(Curves(), size=(320, 260))
    plot.show_curves(PRESSURE)
    QApplication.processEvents()
    return plot


def ends_on_screen(plot) -> list[tuple[str, float, float]]:
    """Return each word with its place in pixels of the plot's area."""
    box = plot.plot.getPlotItem().vb
    (left, right), (low, high) = box.viewRange()
    across, down = box.width() / (right - left), box.height() / (high - low)
    return [
        (text.toPlainText(), (text.pos().x() - left) * across, (high - text.pos().y()) * down)
        for text, _, _ in plot.words
    ]


def test_every_line_has_its_words_at_its_end(made):
    words = ends_on_screen(made)
    assert [text for text, _, _ in words] == [name for name, _, _ in PRESSURE.lines]
    width = made.plot.getPlotItem().vb.width()
    for text, x, _ in words:
        assert x + made.fontMetrics().horizontalAdvance(text) < width + 30
        assert x > width / 3
    for (_, _, values), (text, _, value) in zip(PRESSURE.lines, made.words, strict=True):
        assert value == values[-1], text.toPlainText()


def test_words_of_near_lines_do_not_cover_each_other(made):
    flat = tuple(
        (name, tone, 20.0 + 0.01 * k + 0 * PRESSURE.x)
        for k, (name, tone, _) in enumerate(PRESSURE.lines)
    )
    made.show_curves(replace(PRESSURE, lines=flat))
    QApplication.processEvents()
    heights = sorted(y for _, _, y in ends_on_screen(made))
    assert min(np.diff(heights)) >= LINE_PX - 1


def test_lines_differ_by_stroke_and_not_only_by_colour(made):
    pens = [i.opts["pen"] for i in made.items if hasattr(i, "opts")]
    assert len({pen.style() for pen in pens}) == len(PRESSURE.lines)


def test_levels_are_dashed_and_in_view(made):
    (line,) = [i for i in made.items if isinstance(i, pg.InfiniteLine)]
    (label,) = line.childItems()
    assert line.pen.style() is Qt.PenStyle.DashLine
    assert label.toPlainText() == "body rating 80"
    low, high = made.plot.getPlotItem().vb.viewRange()[1]
    assert low <= 80.0 <= high


def test_a_line_that_breaks_off_has_its_words_there(made):
    name, tone, values = PRESSURE.lines[2]
    broken = np.where(PRESSURE.x > 60.0, np.nan, values)
    made.show_curves(replace(PRESSURE, lines=(*PRESSURE.lines[:2], (name, tone, broken))))
    text, x, value = made.words[2]
    assert (x, value) == (60.0, values[np.searchsorted(PRESSURE.x, 60.0)])
    assert text.toPlainText() == name


def test_a_line_without_any_value_has_no_words(made):
    nothing = ("cold", Tone.QUIET, np.full(61, np.nan))
    made.show_curves(replace(PRESSURE, lines=(nothing,), marks=()))
    assert made.words == []


def test_words_are_plain_and_ticks_end_with_the_lines(made):
    lines = (("<b>{0}</b>", Tone.PLAIN, PRESSURE.x), *PRESSURE.lines[1:])
    made.show_curves(replace(PRESSURE, lines=lines, marks=(("{x} <i>", 1.0, Tone.GOOD),)))
    assert made.words[0][0].toPlainText() == "<b>{0}</b>"
    ticks = made.plot.getPlotItem().getAxis("bottom")._tickLevels[0]
    assert max(value for value, _ in ticks) <= PRESSURE.x[-1]
    assert made.title.textFormat() is Qt.TextFormat.PlainText


def test_the_same_curves_are_not_drawn_again(made):
    items = list(made.items)
    made.show_curves(curves(262)[0])
    assert made.items == items
    for other in (
        curves(263)[0],
        replace(PRESSURE, marks=()),
        replace(PRESSURE, lines=PRESSURE.lines[:2]),
        replace(PRESSURE, x=PRESSURE.x + 1),
    ):
        made.show_curves(other)
        assert made.items != items
        items = list(made.items)


def test_another_light_draws_it_anew(made):
    made.window().theme = LIGHT
    QApplication.sendEvent(made, QEvent(QEvent.Type.StyleChange))
    colours = [text.color.name() for text, _, _ in made.words]
    assert colours == [LIGHT.tone(tone).ink for _, tone, _ in PRESSURE.lines]
    made.show_curves(FORCE)
    assert made.title.text() == "Gas force, N"
    assert "Gas force" in made.accessibleName()
