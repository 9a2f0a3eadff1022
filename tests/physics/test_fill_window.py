"""The least and the most oil for which every limit holds, and which limit closes each end."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.physics.damper import (
    DamperLimits,
    Limit,
    cavitation_force_n,
    charged_to_specification,
    fill_window,
    limit_margins,
)
from benchstation.physics.errors import RangeError
from tests.physics.conftest import damper

BAR, ALPHA = 1e5, 7.4e-4
MORE_OIL_HURTS = {Limit.HOT_PRESSURE, Limit.GAS_ROOM, Limit.CAVITATION}


def limits(**changes):
    given_values = {
        "body_rating_gauge_pa": 80 * BAR,
        "hot_limit_k": 393.15,
        "cold_limit_k": 253.15,
        "min_floating_piston_clearance_m": 0.005,
        "min_floating_piston_room_m": 0.008,
    }
    return DamperLimits(**(given_values | changes))


def window(judged=None, geometry=None, charge=15 * BAR):
    return fill_window(
        geometry or damper(), judged or limits(), charge_gauge_pa=charge, oil_alpha_per_k=ALPHA
    )


def margins(oil, judged=None, charge=15 * BAR):
    unit = charged_to_specification(
        damper(), charge_gauge_pa=charge, oil_volume_m3=oil, oil_alpha_per_k=ALPHA
    )
    return limit_margins(unit, judged or limits())


def test_an_ordinary_damper_has_a_window():
    found = window()
    assert not found.is_empty
    assert 0.0 < found.least_m3 < found.most_m3 < damper().free_volume_m3
    assert found.contains(262e-6)
    assert not found.contains(found.most_m3 + 1e-9)
    assert not found.contains(found.least_m3 - 1e-9)


CASES = [
    limits(),
    limits(body_rating_gauge_pa=45 * BAR),
    limits(min_floating_piston_room_m=0.03),
    limits(min_floating_piston_clearance_m=0.02),
    limits(max_floating_piston_room_m=0.062),
    limits(min_compression_force_n=1880.0),
]


@pytest.mark.parametrize("judged", CASES)
def test_inside_every_limit_holds_and_beyond_an_end_the_named_one_fails(judged):
    found = window(judged)
    assert not found.is_empty
    span = found.most_m3 - found.least_m3
    for share in (1e-6, 0.3, 0.7, 1 - 1e-6):
        inside = margins(found.least_m3 + share * span, judged)
        assert min(inside.values()) >= 0.0
    if found.most_closed_by is not None:
        assert margins(found.most_m3 + 1e-9, judged)[found.most_closed_by] < 0.0
        assert found.most_closed_by in MORE_OIL_HURTS
    if found.least_closed_by is not None:
        assert margins(found.least_m3 - 1e-9, judged)[found.least_closed_by] < 0.0
        assert found.least_closed_by not in MORE_OIL_HURTS


@pytest.mark.parametrize(
    ("judged", "end", "closed_by"),
    [
        (limits(body_rating_gauge_pa=30 * BAR), "most", Limit.HOT_PRESSURE),
        (limits(min_floating_piston_room_m=0.03), "most", Limit.GAS_ROOM),
        (limits(min_floating_piston_clearance_m=0.02), "least", Limit.CLEARANCE),
        (limits(max_floating_piston_room_m=0.062), "least", Limit.PISTON_TRAVEL),
    ],
)
def test_the_end_is_named_by_the_limit_that_closes_it(judged, end, closed_by):
    assert getattr(window(judged), f"{end}_closed_by") is closed_by


def test_an_end_by_hand():
    """Without expansion or pressure limits the least oil is where the pistons touch.

    Clearance at full bump: 265 - 32 - 150 - 18 mm less the room; room = (V_free - V - V_rod)/A.
    """
    geometry = damper()
    judged = limits(min_floating_piston_clearance_m=0.0, min_floating_piston_room_m=0.0)
    found = fill_window(geometry, judged, charge_gauge_pa=10 * BAR, oil_alpha_per_k=0.0)
    room = 0.265 - 0.032 - 0.150 - 0.018
    least = geometry.free_volume_m3 - geometry.stroke_volume_m3 - room * geometry.bore_area_m2
    assert found.least_m3 == pytest.approx(least, rel=1e-6)
    assert found.least_closed_by is Limit.CLEARANCE


def test_the_pressure_end_is_where_the_rating_is_met():
    judged = limits(body_rating_gauge_pa=30 * BAR)
    found = window(judged)
    assert margins(found.most_m3, judged)[Limit.HOT_PRESSURE] == pytest.approx(0.0, abs=5.0)


def test_a_window_can_be_empty():
    assert window(limits(body_rating_gauge_pa=17 * BAR)).is_empty


@given(st.floats(20 * BAR, 80 * BAR), st.floats(1.01, 1.3))
@settings(max_examples=20)
def test_a_stronger_body_never_narrows_the_window(rating, factor):
    narrow = window(limits(body_rating_gauge_pa=rating))
    wide = window(limits(body_rating_gauge_pa=min(rating * factor, 110 * BAR)))
    assert wide.most_m3 >= narrow.most_m3 - 1e-12
    assert wide.least_m3 == narrow.least_m3


@given(st.floats(5 * BAR, 25 * BAR), st.floats(0.1 * BAR, 3 * BAR))
@settings(max_examples=20)
def test_more_charge_never_widens_the_window(charge, more):
    low, high = window(charge=charge), window(charge=charge + more)
    assert high.most_m3 <= low.most_m3 + 1e-12


@given(st.floats(200e-6, 300e-6), st.floats(0.5e-6, 20e-6))
@settings(max_examples=30)
def test_each_margin_moves_one_way(oil, more):
    judged = limits(max_floating_piston_room_m=0.08, min_compression_force_n=500.0)
    less_oil, more_oil = margins(oil, judged), margins(oil + more, judged)
    for limit, margin in less_oil.items():
        if limit in MORE_OIL_HURTS:
            assert more_oil[limit] <= margin + 1e-9
        else:
            assert more_oil[limit] >= margin - 1e-9


def test_a_unit_without_room_has_no_margin():
    assert margins(350e-6)[Limit.HOT_PRESSURE] == -math.inf
    assert margins(350e-6)[Limit.GAS_ROOM] < 0.0


def test_cavitation_force_by_hand():
    """16.013 bar absolute on 1661.9 - 153.9 mm2 is 2414.8 N."""
    unit = charged_to_specification(
        damper(), charge_gauge_pa=15 * BAR, oil_volume_m3=262e-6, oil_alpha_per_k=0.0
    )
    assert cavitation_force_n(unit, 293.15) == pytest.approx(2414.8, abs=0.5)


def test_only_what_is_stated_is_judged():
    assert set(margins(262e-6)) == {Limit.HOT_PRESSURE, Limit.GAS_ROOM, Limit.CLEARANCE}


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"body_rating_gauge_pa": 80.0}, "body rating"),
        ({"body_rating_gauge_pa": math.nan}, "body rating"),
        ({"cold_limit_k": -20.0}, "cold limit"),
        ({"hot_limit_k": 250.0}, "hot limit"),
        ({"min_floating_piston_clearance_m": -1e-3}, "clearance"),
        ({"min_floating_piston_room_m": 5.0}, "room"),
        ({"max_floating_piston_room_m": 0.0}, "travel"),
        ({"min_compression_force_n": -1.0}, "force"),
    ],
)
def test_limits_that_make_no_sense_are_refused_by_name(changes, named):
    with pytest.raises(RangeError, match=named):
        limits(**changes)


def test_minus_twenty_degrees_is_allowed_however_it_was_computed():
    """-20 degC by floats is 253.14999999999998 K."""
    assert limits(cold_limit_k=-20 + 273.15).cold_limit_k == 253.14999999999998
