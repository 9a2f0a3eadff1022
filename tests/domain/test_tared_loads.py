"""A person's word is held against what stood on the scale at the tares before."""

import pytest

from benchstation.domain.oil_balance import Purpose
from benchstation.domain.specification import Method
from benchstation.domain.tared_loads import (
    OnScale,
    TaredLoad,
    contradiction_kg,
    given_up,
    on_scale,
    taken_back,
    with_capture,
    without_fill,
)

BODY = (TaredLoad("s", OnScale.BODY, 0.900),)
JUG = TaredLoad("s", OnScale.JUG, 1.500, 0.2)


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
    found = contradiction_kg(BODY, "s", OnScale.BODY, shown_kg, 0.900, 0.001)
    assert found == (None if found_kg is None else pytest.approx(found_kg))


def test_what_was_captured_since_belongs_to_the_load():
    loads = with_capture(BODY, "s", 0.100)
    assert contradiction_kg(loads, "s", OnScale.BODY, 0.100, 0.900, 0.001) is None
    assert contradiction_kg(loads, "s", OnScale.BODY, 0.140, 0.900, 0.001) == pytest.approx(0.040)
    assert with_capture(BODY, "other scale", 0.1) == BODY
    assert with_capture((), "s", 0.1) == ()


def test_a_jug_that_was_filled_up_says_nothing_and_a_lighter_one_does():
    loads = (TaredLoad("s", OnScale.JUG, 1.500, 0.200),)
    assert contradiction_kg(loads, "s", OnScale.JUG, 0.300, 1.500, 0.001) is None
    assert contradiction_kg(loads, "s", OnScale.JUG, -0.240, 1.500, 0.001) == pytest.approx(-0.040)


def test_another_scale_or_vessel_is_not_compared():
    assert contradiction_kg(BODY, "t", OnScale.BODY, 0.5, 0.900, 0.001) is None
    assert contradiction_kg(BODY, "s", OnScale.TRAY, 0.5, 0.900, 0.001) is None
    unit = (TaredLoad("s", OnScale.UNIT, 0.0),)
    assert contradiction_kg(unit, "s", OnScale.UNIT, 0.5, 0.900, 0.001) is None


def test_the_body_comes_back_while_the_tares_of_the_tray_stands():
    loads = (*BODY, TaredLoad("s", OnScale.TRAY, 0.300), TaredLoad("t", OnScale.TRAY, 7.0))
    assert contradiction_kg(loads, "s", OnScale.BODY, 0.600, 0.300, 0.001) is None
    assert contradiction_kg(loads, "s", OnScale.BODY, 0.640, 0.300, 0.001) == pytest.approx(0.040)


def test_a_fill_that_is_given_up_leaves_the_empty_body_to_compare_with():
    filled = (*BODY, TaredLoad("s", OnScale.BODY, 1.100, 0.024, 0.200))
    loads = without_fill((*filled, TaredLoad("s", OnScale.TRAY, 0.15), JUG))
    assert [one.on for one in loads] == [OnScale.BODY, OnScale.BODY]
    assert contradiction_kg(loads, "s", OnScale.BODY, -0.200, 1.100, 0.001) is None
    assert contradiction_kg(loads, "s", OnScale.BODY, 0.024, 1.100, 0.001) == pytest.approx(0.224)


def test_what_was_bled_and_given_up_is_to_be_out_of_the_tray():
    loads = given_up((TaredLoad("s", OnScale.TRAY, 0.150, 0.003), JUG), OnScale.TRAY)
    assert contradiction_kg(loads, "s", OnScale.TRAY, 0.0, 0.150, 0.001) is None
    assert contradiction_kg(loads, "s", OnScale.TRAY, 0.003, 0.150, 0.001) == pytest.approx(0.003)
    assert loads[1] == JUG


def test_a_body_that_was_first_tared_with_oil_in_it_tells_no_empty_weight():
    assert given_up((TaredLoad("s", OnScale.BODY, 1.0, oil_kg=0.1),), OnScale.BODY) == ()


def test_a_part_that_is_weighed_again_leaves_the_part_of_another_lot_in_the_body():
    two_lots = (
        TaredLoad("s", OnScale.BODY, 0.900, 0.100),
        TaredLoad("s", OnScale.BODY, 1.000, 0.105, oil_kg=0.100),
    )
    (_, last) = taken_back(two_lots, OnScale.BODY, 0.105)
    assert last.expected_kg == pytest.approx(1.000)
    both = taken_back(two_lots, OnScale.BODY, 0.205)
    assert both[-1].expected_kg == pytest.approx(0.900)


def test_what_was_bled_and_is_weighed_again_is_out_of_the_tray_and_a_jug_tells_nothing():
    tray = TaredLoad("s", OnScale.TRAY, 0.150, 0.008)
    assert taken_back((tray,), OnScale.TRAY, 0.008)[-1].expected_kg == pytest.approx(0.150)
    assert taken_back((*BODY, JUG), OnScale.JUG, 0.2) == BODY
    assert taken_back(BODY, OnScale.TRAY, 0.008) == BODY
