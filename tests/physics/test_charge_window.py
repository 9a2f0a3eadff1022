"""The least and the most charge for which every limit holds, and which limit closes each end."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.physics import nitrogen
from benchstation.physics.damper import (
    DamperLimits,
    Limit,
    charge_window,
    charged_to_specification,
    limit_margins,
)
from benchstation.physics.errors import RangeError
from tests.physics.conftest import damper

BAR, ALPHA, OIL, AMBIENT = 1e5, 7.4e-4, 262e-6, 101_325.0


def limits(**changes):
    given_values = {
        "body_rating_gauge_pa": 80 * BAR,
        "hot_limit_k": 393.15,
        "cold_limit_k": 253.15,
        "min_floating_piston_clearance_m": 0.005,
        "min_floating_piston_room_m": 0.008,
        "min_push_force_n": 60.0,
    }
    return DamperLimits(**(given_values | changes))


def window(judged=None, oil=OIL):
    return charge_window(damper(), judged or limits(), oil_volume_m3=oil, oil_alpha_per_k=ALPHA)


def margins(charge, judged=None, oil=OIL):
    unit = charged_to_specification(
        damper(), charge_gauge_pa=charge, oil_volume_m3=oil, oil_alpha_per_k=ALPHA
    )
    return limit_margins(unit, judged or limits())


CASES = [
    limits(),
    limits(body_rating_gauge_pa=45 * BAR),
    limits(min_push_force_n=200.0),
    limits(min_compression_force_n=1500.0),
    limits(min_compression_force_n=1500.0, body_rating_gauge_pa=70 * BAR),
]


@pytest.mark.parametrize("judged", CASES)
def test_the_named_limits_really_bind(judged):
    """At each end the named limit has no margin left, and beyond it that limit fails."""
    found = window(judged)
    assert not found.is_empty
    for end, named, outward in (
        (found.least_gauge_pa, found.least_closed_by, -1.0),
        (found.most_gauge_pa, found.most_closed_by, 1.0),
    ):
        inside, outside = margins(end - outward * 10, judged), margins(end + outward * 10, judged)
        assert all(margin >= 0.0 for margin in inside.values())
        assert outside[named] < 0.0
        assert [limit for limit, margin in outside.items() if margin < 0.0] == [named]


@pytest.mark.parametrize(
    ("judged", "least_by", "most_by"),
    [
        (limits(), Limit.RETURN, Limit.HOT_PRESSURE),
        (limits(min_compression_force_n=1500.0), Limit.CAVITATION, Limit.HOT_PRESSURE),
        (limits(body_rating_gauge_pa=118 * BAR, hot_limit_k=253.15), Limit.RETURN, Limit.EQUATION),
    ],
)
def test_the_ends_are_named(judged, least_by, most_by):
    found = charge_window(
        damper(), judged, oil_volume_m3=OIL, oil_alpha_per_k=0.0, reference_k=253.15
    )
    assert (found.least_closed_by, found.most_closed_by) == (least_by, most_by)


def test_the_lower_end_by_hand():
    """Oil that does not expand, all at 20 degC: 60 N on a 14 mm rod is 60/(pi/4 0.014**2) Pa."""
    judged = limits(cold_limit_k=293.15)
    found = charge_window(damper(), judged, oil_volume_m3=OIL, oil_alpha_per_k=0.0)
    assert found.least_gauge_pa == pytest.approx(60 / (math.pi / 4 * 0.014**2), rel=1e-6)


def test_without_a_stated_push_force_the_rod_must_still_come_out():
    found = window(limits(min_push_force_n=None))
    assert found.least_closed_by is Limit.RETURN
    unit = charged_to_specification(
        damper(), charge_gauge_pa=found.least_gauge_pa, oil_volume_m3=OIL, oil_alpha_per_k=ALPHA
    )
    assert unit.pressure_pa(253.15) == pytest.approx(AMBIENT, rel=1e-6)


def test_no_charge_mends_a_fill_that_breaks_a_limit_of_position():
    found = window(limits(min_floating_piston_clearance_m=0.05))
    assert found.broken == (Limit.CLEARANCE,)
    assert found.is_empty
    assert not found.contains(15 * BAR)


def test_a_weak_body_leaves_no_charge():
    found = window(limits(body_rating_gauge_pa=5 * BAR, min_push_force_n=200.0))
    assert found.is_empty
    assert not found.broken
    assert not found.contains(0.5 * (found.least_gauge_pa + found.most_gauge_pa))


@given(st.floats(20 * BAR, 100 * BAR), st.floats(1.01, 1.3))
@settings(max_examples=25)
def test_a_stronger_body_never_lowers_the_upper_end(rating, factor):
    weak = window(limits(body_rating_gauge_pa=rating))
    strong_rating = min(rating * factor, 110 * BAR)
    strong = window(limits(body_rating_gauge_pa=strong_rating))
    assert strong.most_gauge_pa >= weak.most_gauge_pa
    assert strong.least_gauge_pa == weak.least_gauge_pa


@given(st.floats(250e-6, 285e-6), st.floats(0.5e-6, 5e-6))
@settings(max_examples=25)
def test_more_oil_never_widens_the_window(oil, more):
    judged = limits(min_floating_piston_clearance_m=0.0)
    first, second = window(judged, oil), window(judged, oil + more)
    assert second.most_gauge_pa <= first.most_gauge_pa
    assert second.least_gauge_pa >= first.least_gauge_pa


def test_the_window_stays_in_the_range_of_the_equation():
    found = window(limits(body_rating_gauge_pa=118 * BAR))
    assert found.most_gauge_pa <= nitrogen.HIGH_PA - AMBIENT


def test_oil_that_does_not_fit_is_refused():
    with pytest.raises(RangeError, match="oil volume"):
        window(oil=damper().free_volume_m3 * 1.1)
    with pytest.raises(RangeError, match="least push force"):
        limits(min_push_force_n=-1.0)


def test_the_rod_side_in_rebound_closes_the_upper_end():
    """F / (A_bore - A_rod) on top of the gas at full bump, hot, worked out by hand (Dixon)."""
    plain, judged = limits(), limits(max_rebound_force_n=6000.0)
    free, bound = window(plain), window(judged)
    assert bound.most_gauge_pa < free.most_gauge_pa
    assert bound.most_closed_by is Limit.ROD_SIDE
    at_edge = charged_to_specification(
        damper(), charge_gauge_pa=bound.most_gauge_pa, oil_volume_m3=OIL, oil_alpha_per_k=ALPHA
    )
    area = damper().bore_area_m2 - damper().rod_area_m2
    rod_side = at_edge.full_bump_pa(judged.hot_limit_k) + 6000.0 / area
    assert rod_side - AMBIENT == pytest.approx(judged.body_rating_gauge_pa, rel=1e-6)


def test_a_small_rebound_force_changes_nothing():
    assert window(limits(max_rebound_force_n=100.0)) == window(limits())
