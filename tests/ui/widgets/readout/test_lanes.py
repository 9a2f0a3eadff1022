"""Lanes: round ticks, the window, the landing, and values beyond the ends."""

import itertools
import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.quantities.notation import tick_text
from benchstation.screens.model.elements import LaneView, Tone
from benchstation.ui.shell.theme import DARK
from benchstation.ui.widgets.readout.lanes import (
    BAR_H,
    SIDE,
    TITLE_H,
    Lane,
    Lanes,
    chosen_lanes,
    lane_px,
    tick_values,
)

WHOLE = LaneView("whole pour", "g", 0.0, 240.0, 187.4, 220.5, 223.4)
NEAR = LaneView("last part", "g", 212.0, 228.0, 214.2, 220.5, 223.4, landing=221.2)
WIDE = 800


def columns(lane, shown, offset=BAR_H // 2) -> list[str]:
    """Return the colours along a line through the bar, ``offset`` below its top."""
    view = shown(Lane(), size=(WIDE, lane_px()))
    view.show_lane(lane)
    image = view.grab().toImage()
    return [image.pixelColor(x, TITLE_H + offset).name() for x in range(WIDE)]


def place(lane: LaneView, value: float) -> int:
    return round(SIDE + (value - lane.low) / (lane.high - lane.low) * (WIDE - 2 * SIDE))


@given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e6))
def test_ticks_are_few_even_and_inside(low, span):
    high = low + span
    values = tick_values(low, high)
    assert len(values) <= 8
    if span > 1e-6 * max(1.0, abs(low)):
        assert len(values) >= 2
        step = values[1] - values[0]
        assert all(low - 1e-6 * span <= v <= high + 1e-6 * span for v in values)
        mantissa = step / 10 ** math.floor(math.log10(step * (1 + 1e-9)))
        assert min(abs(mantissa - m) for m in (1, 2, 5, 10)) < 1e-3


@pytest.mark.parametrize("span", [0.0, -1.0, math.nan, math.inf])
def test_a_lane_without_a_span_has_no_ticks(span):
    assert tick_values(0.0, span) == []


@pytest.mark.parametrize(
    ("value", "step", "text"),
    [(200.0, 50.0, "200"), (14.5, 0.5, "14.5"), (-0.0001, 0.5, "0.0"), (0.05, 0.05, "0.05")],
)
def test_ticks_have_the_decimals_of_their_step(value, step, text):
    assert tick_text(value, step) == text


def test_the_bar_ends_at_the_value(shown):
    line = columns(WHOLE, shown)
    blue = DARK.tone(Tone.MANDATORY).fill
    assert line[place(WHOLE, 100)] == blue
    assert line[place(WHOLE, 187.4)] == DARK.text
    assert line[place(WHOLE, 195)] != blue


def test_the_window_is_drawn_where_it_is(shown):
    line = columns(NEAR, shown, offset=4)
    wash = DARK.tone(Tone.GOOD).wash
    assert line[place(NEAR, 222.5)] == wash
    assert line[place(NEAR, 219.5)] != wash
    assert line[place(NEAR, 224.5)] != wash


def test_the_landing_is_a_dashed_line(shown):
    view = shown(Lane(), size=(WIDE, lane_px()))
    view.show_lane(replace(NEAR, accept_low=None, accept_high=None, value=None))
    image = view.grab().toImage()
    x = place(NEAR, 221.2)
    down = [image.pixelColor(x, TITLE_H + y).name() == DARK.text for y in range(BAR_H)]
    changes = sum(a != b for a, b in itertools.pairwise(down))
    assert any(down)
    assert changes >= 3


def test_without_a_value_nothing_is_filled(shown):
    assert DARK.tone(Tone.MANDATORY).fill not in columns(replace(WHOLE, value=None), shown)


@pytest.mark.parametrize(("value", "edge"), [(900.0, WIDE - SIDE - 5), (-5.0, SIDE + 5)])
def test_a_value_beyond_the_end_points_out_of_the_lane(shown, value, edge):
    assert columns(replace(WHOLE, value=value), shown)[edge] == DARK.text


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_value_that_is_no_number_is_not_drawn(shown, value):
    columns(replace(WHOLE, value=value, landing=value), shown)


def test_a_lane_speaks(shown):
    view = shown(Lane())
    view.show_lane(NEAR)
    assert view.accessibleName() == "last part, g"
    assert view.accessibleDescription() == ("214.2 g, accept 220.5 to 223.4, will end at 221.2")


def test_where_there_is_room_for_one_the_finest_that_holds_the_value_stays():
    assert chosen_lanes((WHOLE, NEAR), 2) == (WHOLE, NEAR)
    assert chosen_lanes((WHOLE, NEAR), 1) == (NEAR,)
    far = replace(NEAR, value=100.0)
    assert chosen_lanes((WHOLE, far), 1) == (WHOLE,)
    assert chosen_lanes((replace(WHOLE, value=None), replace(NEAR, value=None)), 1)[0].title == (
        "whole pour"
    )
    assert chosen_lanes((WHOLE, NEAR), 0) == ()


def test_lanes_come_and_go(shown):
    lanes = shown(Lanes())
    lanes.show_lanes((WHOLE, NEAR))
    assert [w.isVisible() for w in lanes.lanes] == [True, True]
    lanes.show_lanes((NEAR,))
    assert [w.isVisible() for w in lanes.lanes] == [True, False]
    assert lanes.lanes[0].shown == NEAR
    lanes.show_lanes(())
    assert not lanes.isVisible()
