"""Facts of the trade: common practice, no source."""

import math

import pytest

from benchstation.physics.damper import DamperGeometry, charged_to_specification

INCH = 25.4e-3
# Common practice, no source: two sizes of one gas monotube family.
FILLS_M3 = {7 * INCH: 320e-6, 9 * INCH: 400e-6}


def geometry(stroke_m: float, bore_m: float) -> DamperGeometry:
    """A family that differs in stroke only: the tube grows with it."""
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
