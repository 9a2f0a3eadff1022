"""The trace: bounded points, peaks kept, an axis that moves in steps, marks in plain words."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QEvent

from benchstation.screens.model.elements import Tone, TraceView
from benchstation.ui.shell.theme import LIGHT
from benchstation.ui.widgets.plots.trace import MOST_POINTS, Trace, stepped_range, thinned
from tests.ui.fake_moments import charge_trace, pour_trace


@given(st.integers(1, 60_000), st.integers(0, 2**32 - 1))
def test_thinning_bounds_the_points_and_keeps_the_peaks(count, seed):
    random = np.random.default_rng(seed)
    seconds = np.linspace(-90.0, 0.0, count)
    values = random.normal(size=count)
    x, y = thinned(seconds, values)
    assert len(x) == len(y) <= MOST_POINTS + 2
    assert np.all(np.diff(x) >= 0)
    bins = max(1, count - 2)
    assert y.max() == values[:bins].max() or y.max() == values.max()
    assert y.min() == values[:bins].min() or y.min() == values.min()
    if count <= MOST_POINTS:
        assert y is values


def test_the_newest_point_is_always_drawn():
    seconds = np.linspace(-90.0, 0.0, 20_001)
    x, y = thinned(seconds, np.sin(seconds))
    assert (x[-1], y[-1]) == (seconds[-1], np.sin(seconds)[-1])


@pytest.mark.parametrize("place", [0, 1, 15_001, 29_996, 29_998, 30_000])
@pytest.mark.parametrize("peak", [7.0, -7.0])
def test_a_peak_is_kept_wherever_it_is_and_the_last_point_too(place, peak):
    values = np.zeros(30_001)
    values[place] = peak
    at, y = thinned(np.arange(30_001.0), values)
    assert peak in y
    assert at[-1] == 30_000
    assert np.all(np.diff(at) >= 0)


def test_one_gap_does_not_blank_its_neighbours():
    values = np.ones(30_000)
    values[15_000] = np.nan
    values[20_000:21_000] = np.nan
    _, y = thinned(np.linspace(-90.0, 0.0, len(values)), values)
    lost = np.isnan(y).sum()
    # Only bins without any number at all are gaps: about 1000 of 30 000 points.
    assert 150 <= lost <= 260


@given(st.floats(-1e3, 1e3), st.floats(1e-3, 1e3))
def test_the_range_holds_its_values_with_room(low, span):
    high = low + span
    bottom, top = stepped_range(low, high)
    assert bottom < low < high < top
    assert top - bottom < 3 * (high - low) + 1e-2 * abs(high) + 1e-3


def test_the_range_stays_while_values_creep():
    ranges = {stepped_range(0.0, 222.0 + 0.001 * k) for k in range(1000)}
    assert len(ranges) <= 2


def test_a_long_trace_draws_few_points(shown):
    trace = shown(Trace())
    trace.show_trace(pour_trace(400_000))
    assert trace.drawn_points <= MOST_POINTS + 2


def test_the_axis_is_not_set_again_while_the_trace_runs(shown, monkeypatch):
    trace = shown(Trace())
    view = charge_trace(15.0)
    trace.show_trace(view)
    changes = []
    item = trace.plot.getPlotItem()
    monkeypatch.setattr(item, "setXRange", lambda *a, **k: changes.append("x"))
    monkeypatch.setattr(item, "setYRange", lambda *a, **k: changes.append("y"))
    for k in range(30):
        trace.show_trace(replace(view, values=view.values + 0.0001 * k))
    assert changes == []


def test_the_same_samples_are_not_drawn_again(shown, monkeypatch):
    trace = shown(Trace())
    view = pour_trace()
    trace.show_trace(view)
    monkeypatch.setattr(trace.curve, "setData", lambda *a: pytest.fail("drawn again"))
    trace.show_trace(replace(view, span_s=40.0))


def test_marks_are_plain_words_whatever_they_hold(shown):
    trace = shown(Trace())
    words = "<b>limit</b> {value} {0} 30"
    view = replace(charge_trace(15.0), marks=((words, 30.0, Tone.DANGER),))
    trace.show_trace(view)
    (line,) = trace.lines
    (mark,) = [item for item in line.childItems() if hasattr(item, "textItem")]
    assert mark.textItem.toPlainText() == words


def test_old_marks_go_when_others_come(shown):
    trace = shown(Trace())
    trace.show_trace(charge_trace(15.0))
    trace.show_trace(replace(charge_trace(15.0), marks=()))
    assert trace.lines == []


@pytest.mark.parametrize("count", [0, 1])
def test_a_trace_with_nothing_in_it_yet(shown, count):
    trace = shown(Trace())
    nothing = np.full(count, np.nan)
    trace.show_trace(TraceView("Net mass", "g", np.zeros(count), nothing, 40.0))
    assert trace.drawn_points == count
    assert trace.accessibleName() == "trace of Net mass in g"


def test_a_filed_trace_starts_at_its_own_zero(shown):
    trace = shown(Trace())
    seconds = np.linspace(0.0, 60.0, 100)
    trace.show_trace(TraceView("Pressure", "bar", seconds, seconds, 60.0))
    low, high = trace.plot.getPlotItem().viewRange()[0]
    assert (low, high) == pytest.approx((0.0, 60.0))


def test_nobody_can_drag_the_live_edge_away(shown):
    trace = shown(Trace())
    assert trace.plot.getPlotItem().getViewBox().mouseEnabled() == [False, False]
    assert not trace.plot.getPlotItem().menuEnabled()


def test_it_takes_on_another_light(shown):
    trace = shown(Trace())
    trace.show_trace(charge_trace(15.0))
    trace.window().theme = LIGHT
    trace.changeEvent(QEvent(QEvent.Type.StyleChange))
    assert trace.curve.opts["pen"].color().name() == LIGHT.trace
    assert trace.lines[0].pen.color().name() == LIGHT.tone(Tone.GOOD).ink
