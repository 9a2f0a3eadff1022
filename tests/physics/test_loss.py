"""What a sealed unit lost between two days: buoyancy, temperature and the fill tool by hand."""

import pytest

from benchstation.physics import nitrogen
from benchstation.physics.damper import charged_to_specification
from benchstation.physics.errors import RangeError
from benchstation.physics.loss import (
    lost_pressure_pa,
    mass_in_vacuum_kg,
    outer_volume,
    rate_of_mass_pa_m3_s,
)
from tests.physics.conftest import damper


def test_the_air_of_both_days_by_hand():
    """One litre of unit, 2 kg on the scale; 1013 and 993 hPa are 1.204 and 1.180 kg/m3 at 20 degC:
    the unit is lifted by 24 mg less, its weights (2 kg / 8000 = 0.25 L) by 6 mg less."""
    first = mass_in_vacuum_kg(2.0, 1.204, 1e-3)
    second = mass_in_vacuum_kg(2.0, 1.180, 1e-3)
    assert (first - second) * 1e6 == pytest.approx(24.0 - 6.0, abs=0.1)


def test_a_unit_displaces_its_bore_and_its_metal():
    """1.5 kg of metal are 0.19 L of steel or 0.56 L of aluminium: 0.373 +- 0.105 L."""
    found = outer_volume(damper(), 1.5)
    assert (found.m3 - damper().tube_volume_m3) * 1e3 == pytest.approx(0.373, abs=1e-3)
    assert found.u_m3 * 1e3 == pytest.approx(0.105, abs=1e-3)
    assert outer_volume(damper(), -0.1).m3 == damper().tube_volume_m3


def test_the_rate_of_a_loss_by_hand():
    """0.1 g of nitrogen in a day, p/rho = R T (1 + B rho) = 86.7 kJ/kg at 16 bar and 20 degC."""
    per_kg = 16e5 / nitrogen.density_kg_m3(16e5, 293.15)
    rate = rate_of_mass_pa_m3_s(1e-4, 86_400.0, 16e5, 293.15)
    assert per_kg == pytest.approx(86.7e3, rel=2e-3)
    assert rate == pytest.approx(1e-4 * per_kg / 86_400.0)
    with pytest.raises(RangeError):
        rate_of_mass_pa_m3_s(1e-4, 0.0, 16e5, 293.15)


@pytest.mark.parametrize("second_k", [283.15, 290.15, 303.15])
def test_a_tight_unit_loses_nothing_on_a_colder_or_a_warmer_day(second_k):
    unit = charged_to_specification(
        damper(), charge_gauge_pa=15e5, oil_volume_m3=262e-6, oil_alpha_per_k=7.4e-4
    )
    volume = unit.gas_volume_m3(293.15)
    shrink = 262e-6 * 7.4e-4 / volume
    lost = lost_pressure_pa(
        unit.pressure_pa(293.15), 293.15, unit.pressure_pa(second_k), second_k, shrink
    )
    assert lost == pytest.approx(0.0, abs=1.0)
