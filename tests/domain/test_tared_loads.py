"""A person's word is held against what stood on the scale at the tares before."""

import pytest

from benchstation.domain.oil_balance import Purpose
from benchstation.domain.specification import Method
from benchstation.domain.tared_loads import (
    OnScale,
    TaredLoad,
    contradiction_kg,
    on_scale,
    standing_kg,
    with_capture,
)

BODY = (TaredLoad("s", OnScale.BODY, 0.900),)


@pytest.mark.parametrize(
    ("purpose", "method", "on"),
    [
        (Purpose.POUR, Method.GAIN, OnScale.BODY),
        (Purpose.TOPUP, Method.LOSS, OnScale.JUG),
        (Purpose.POUR, Method.DIFFERENCE, OnScale.UNIT),
        (Purpose.BLEED, Method.GAIN, OnScale.TRAY),
        (Purpose.SPILL, Method.DIFFERENCE, OnScale.TRAY),
    ],
)
def test_what_stands_on_the_scale(purpose, method, on):
    assert on_scale(purpose, method) is on


@pytest.mark.parametrize(
    ("shown_kg", "found_kg"),
    [
        (0.0, None),  # the tare stands, and the body is empty again
        (0.131, 0.131),  # the tare stands, and the oil is still in it
        (0.900, None),  # the scale was switched off and on: it shows the empty body
        (1.031, 0.131),  # switched off and on, with the oil
        (-0.050, -0.050),  # something was lifted off
        (0.0008, None),
    ],
)
def test_an_empty_body_weighs_what_it_did(shown_kg, found_kg):
    found = contradiction_kg(BODY, "s", OnScale.BODY, shown_kg, 0.001)
    assert found == (None if found_kg is None else pytest.approx(found_kg))


def test_what_was_captured_since_belongs_to_the_load():
    loads = with_capture(BODY, "s", 0.100)
    assert contradiction_kg(loads, "s", OnScale.BODY, 0.100, 0.001) is None
    assert contradiction_kg(loads, "s", OnScale.BODY, 0.140, 0.001) == pytest.approx(0.040)
    assert with_capture(BODY, "other scale", 0.1) == BODY
    assert with_capture((), "s", 0.1) == ()


def test_a_jug_that_was_filled_up_says_nothing_and_a_lighter_one_does():
    loads = (TaredLoad("s", OnScale.JUG, 1.500, 0.200),)
    assert contradiction_kg(loads, "s", OnScale.JUG, 0.300, 0.001) is None
    assert contradiction_kg(loads, "s", OnScale.JUG, -0.240, 0.001) == pytest.approx(-0.040)


def test_another_scale_or_vessel_is_not_compared():
    assert contradiction_kg(BODY, "t", OnScale.BODY, 0.5, 0.001) is None
    assert contradiction_kg(BODY, "s", OnScale.TRAY, 0.5, 0.001) is None
    unit = (TaredLoad("s", OnScale.UNIT, 0.0),)
    assert contradiction_kg(unit, "s", OnScale.UNIT, 0.5, 0.001) is None


def test_the_last_tare_of_the_scale_is_where_it_shows_zero():
    loads = (*BODY, TaredLoad("s", OnScale.TRAY, 0.300), TaredLoad("t", OnScale.TRAY, 7.0))
    assert standing_kg(loads, "s") == pytest.approx(0.300)
    assert standing_kg((), "s") == 0.0
    # The body comes back while the tray's tare stands.
    assert contradiction_kg(loads, "s", OnScale.BODY, 0.600, 0.001) is None
    assert contradiction_kg(loads, "s", OnScale.BODY, 0.640, 0.001) == pytest.approx(0.040)
