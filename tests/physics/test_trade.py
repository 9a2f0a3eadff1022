"""Facts of the trade: common practice, no source."""

import math

import pytest

from benchstation.physics.damper import ChargedDamper, DamperGeometry, charged_to_specification
from benchstation.physics.oil import Oil

INCH = 25.4e-3
# Common practice, no source: two strokes of one gas monotube design.
FILLS_M3 = {7 * INCH: 320e-6, 9 * INCH: 400e-6}


def geometry(stroke_m: float, bore_m: float) -> DamperGeometry:
    """A design that differs in stroke only: the tube grows with it."""
    return DamperGeometry(
        bore_m=bore_m,
        rod_diameter_m=14e-3,
        internal_length_m=stroke_m + 120e-3,
        stroke_m=stroke_m,
        floating_piston_thickness_m=18e-3,
        hardware_volume_m3=47e-6,
    )


def test_each_inch_of_stroke_takes_the_bore_area_of_oil():
    (short, less), (long, more) = FILLS_M3.items()
    per_inch = (more - less) / ((long - short) / INCH)
    assert per_inch == pytest.approx(40e-6)
    bore_m = math.sqrt(4 * per_inch / INCH / math.pi)
    assert 1.7 * INCH < bore_m < 1.85 * INCH
    # In the geometry model: the same gas volume needs just that much more oil.
    small, large = geometry(short, bore_m), geometry(long, bore_m)
    gas = small.gas_volume_m3(less)
    assert large.gas_volume_m3(more) == pytest.approx(gas, rel=1e-9)
    assert gas > 0


def test_the_rod_returns_after_charging_and_stays_in_after_release():
    """Common practice, no source: seal friction of such a unit is some 30 to 60 N."""
    friction_n, ambient_pa = 60.0, 101_325.0
    unit_geometry = geometry(7 * INCH, 45e-3)
    unit = charged_to_specification(
        unit_geometry, charge_gauge_pa=14e5, oil_volume_m3=320e-6, oil_alpha_per_k=7.5e-4
    )
    for travel in (0.0, 0.5 * unit_geometry.stroke_m, unit_geometry.stroke_m):
        gas = unit.pressure_pa(293.15, travel)
        assert unit_geometry.push_force_n(gas, ambient_pa) > friction_n
    assert unit_geometry.push_force_n(ambient_pa, ambient_pa) == 0.0
    residual = charged_to_specification(
        unit_geometry, charge_gauge_pa=0.1e5, oil_volume_m3=320e-6, oil_alpha_per_k=7.5e-4
    )
    assert unit_geometry.push_force_n(residual.pressure_pa(293.15), ambient_pa) < friction_n


def overfilled(stroke_m: float, rod_m: float, hot_k: float) -> dict[str, float]:
    """A 46 mm unit with 90 mL of gas, and the rise of its hot full bump for 6 mL too much oil."""
    body = DamperGeometry(
        bore_m=46e-3,
        rod_diameter_m=rod_m,
        internal_length_m=stroke_m + 115e-3,
        stroke_m=stroke_m,
        floating_piston_thickness_m=18e-3,
        hardware_volume_m3=47e-6,
    )
    right = body.oil_volume_m3(90e-6)
    alpha = Oil(860.0).mean_expansion_per_k(293.15, hot_k)

    def charged(oil_m3: float) -> ChargedDamper:
        return charged_to_specification(
            body, charge_gauge_pa=15e5, oil_volume_m3=oil_m3, oil_alpha_per_k=alpha
        )

    unit, refilled = charged(right), charged(right + 6e-6)
    kept = ChargedDamper(body, right + 6e-6, unit.amount_kg, alpha)
    slow, fast = unit.full_bump_pa(hot_k), unit.full_bump_fast_pa(hot_k)
    return {
        "slow, same gas": kept.full_bump_pa(hot_k) / slow - 1,
        "fast, same gas": kept.full_bump_fast_pa(hot_k) / fast - 1,
        "slow, same charge": refilled.full_bump_pa(hot_k) / slow - 1,
        "fast, same charge": refilled.full_bump_fast_pa(hot_k) / fast - 1,
    }


def test_six_millilitres_too_much_raise_the_hot_bump_by_fifteen_percent_only_if_the_gas_stays():
    """Common practice, no source: "6 mL of overfill in a 46 mm unit with 90 mL of gas raises the
    hot full-bump pressure by about 15 %".

    True of 150 mm travel, a 14 mm rod and 100 degC when the same gas stays in the unit. A unit that
    is charged to the specified pressure after the overfill holds less gas: then it is 7 to 9 %.
    """
    rise = overfilled(0.150, 14e-3, 373.15)
    assert rise["slow, same gas"] == pytest.approx(0.150, abs=0.001)
    assert rise["fast, same gas"] == pytest.approx(0.175, abs=0.001)
    assert rise["slow, same charge"] == pytest.approx(0.072, abs=0.001)
    assert rise["fast, same charge"] == pytest.approx(0.094, abs=0.001)


def test_a_longer_or_hotter_unit_gains_fifteen_percent_at_the_specified_charge_too():
    """Common practice, no source: the less gas a hot bump leaves, the more 6 mL count."""
    assert overfilled(0.180, 14e-3, 373.15)["fast, same charge"] == pytest.approx(0.139, abs=2e-3)
    assert overfilled(0.180, 14e-3, 378.15)["fast, same charge"] == pytest.approx(0.15, abs=5e-3)
    assert overfilled(0.180, 16e-3, 353.15)["fast, same charge"] == pytest.approx(0.163, abs=2e-3)
    assert overfilled(0.150, 16e-3, 393.15)["fast, same charge"] == pytest.approx(0.176, abs=2e-3)
