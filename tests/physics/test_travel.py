"""Curves over travel: pressures, forces and rates, slow and fast."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.physics.damper import charged_to_specification
from benchstation.physics.errors import RangeError
from benchstation.physics.travel import over_travel
from tests.physics.conftest import damper

BAR, ALPHA, AMBIENT = 1e5, 7.4e-4, 101_325.0


def charged(oil=262e-6, charge=15 * BAR, **changes):
    return charged_to_specification(
        damper(**changes), charge_gauge_pa=charge, oil_volume_m3=oil, oil_alpha_per_k=ALPHA
    )


@pytest.mark.parametrize("temperature", [253.15, 293.15, 373.15])
def test_the_curve_is_what_the_single_points_give(temperature):
    unit = charged()
    curve = over_travel(unit, temperature, points=7)
    for n, x in enumerate(curve.travel_m):
        point = float(x)
        assert curve.slow_pa[n] == pytest.approx(unit.pressure_pa(temperature, point), rel=1e-10)
        assert curve.fast_pa[n] == pytest.approx(
            unit.fast_pressure_pa(temperature, point), rel=1e-8
        )
        assert curve.floating_piston_room_m[n] == pytest.approx(
            unit.floating_piston_room_m(temperature, point), rel=1e-10
        )
        assert curve.floating_piston_clearance_m[n] == pytest.approx(
            unit.floating_piston_clearance_m(temperature, point), abs=1e-12
        )


@given(st.floats(255, 370), st.floats(5 * BAR, 20 * BAR))
@settings(max_examples=25)
def test_the_rate_is_the_slope_of_the_force(temperature, charge):
    curve = over_travel(charged(charge=charge), temperature, points=301)
    for force, rate in (
        (curve.slow_force_n, curve.slow_rate_n_m),
        (curve.fast_force_n, curve.fast_rate_n_m),
    ):
        slope = np.gradient(force, curve.travel_m)
        assert rate[1:-1] == pytest.approx(slope[1:-1], rel=1e-3)


def test_force_and_rate_by_hand():
    """Ideal gas: slow F = (p - p_amb) A and dF/dx = A**2 p / V; fast 1.4 times that at the start.

    14 mm rod: A = 1.5394e-4 m2; 15 bar gauge in 101.49 mL: A**2 p/V = 374 N/m.
    """
    unit = charged()
    curve = over_travel(unit, 293.15)
    area = unit.geometry.rod_area_m2
    assert area == pytest.approx(1.5394e-4, abs=1e-8)
    assert curve.slow_force_n[0] == pytest.approx(15e5 * area, rel=1e-9)
    ideal = area**2 * (15e5 + AMBIENT) / unit.gas_volume_m3(293.15)
    assert ideal == pytest.approx(373.9, abs=0.1)
    assert curve.slow_rate_n_m[0] == pytest.approx(ideal, rel=0.01)
    assert curve.fast_rate_n_m[0] / curve.slow_rate_n_m[0] == pytest.approx(1.4, rel=0.03)


def test_pressure_force_and_rate_rise_and_fast_leads():
    curve = over_travel(charged(), 333.15)
    for values in (curve.slow_pa, curve.fast_pa, curve.slow_force_n, curve.fast_rate_n_m):
        assert (np.diff(values) > 0).all()
    assert (np.diff(curve.floating_piston_room_m) < 0).all()
    assert (curve.fast_pa >= curve.slow_pa * (1 - 1e-12)).all()


def test_a_unit_that_locks_solid_has_no_curve_there():
    full = damper().free_volume_m3 - 20e-6
    curve = over_travel(charged(oil=full, charge=5 * BAR), 293.15)
    assert np.isfinite(curve.slow_pa[0])
    assert np.isnan(curve.fast_pa[-1])
    assert np.isnan(curve.slow_rate_n_m[-1])
    solid = np.isnan(curve.fast_pa)
    assert (np.diff(solid.astype(int)) >= 0).all()


def test_too_few_points_are_refused():
    with pytest.raises(RangeError, match="number of points"):
        over_travel(charged(), 293.15, points=1)
