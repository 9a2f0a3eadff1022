"""The fill tool's dead volume: what is vented, and what checking a charge costs."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.physics import nitrogen
from benchstation.physics.errors import RangeError
from benchstation.physics.fill_tool import (
    pressure_after_joining_pa,
    pressure_before_joining_pa,
    vented_kg,
)

BAR, ML, AMBIENT = 1e5, 1e-6, 101_325.0
charges, volumes, dead = st.floats(3 * BAR, 50 * BAR), st.floats(20e-6, 200e-6), st.floats(0, 10e-6)


def test_checking_a_charge_by_hand():
    """Boyle: (16.01325 * 90 + 1.01325 * 3) / 93 = 15.5294 bar; the real gas is 0.05 % off that."""
    boyle = (16.01325 * 90 + 1.01325 * 3) / 93
    assert boyle == pytest.approx(15.5294, abs=1e-4)
    after = pressure_after_joining_pa(16.01325 * BAR, 90 * ML, 3 * ML, 293.15)
    assert after / BAR == pytest.approx(boyle, rel=5e-4)


def test_what_is_vented_by_hand():
    """3 mL at 16.013 bar less 3 mL at 1.013 bar: 3e-6 (18.47 - 1.165) = 51.9 mg."""
    assert vented_kg(16.01325 * BAR, 3 * ML, 293.15) == pytest.approx(51.9e-6, abs=0.1e-6)
    assert vented_kg(AMBIENT, 3 * ML, 293.15) == 0.0


@given(charges, volumes, dead)
def test_before_and_after_undo_each_other(charge, volume, dead_volume):
    after = pressure_after_joining_pa(charge, volume, dead_volume, 293.15)
    before = pressure_before_joining_pa(after, volume, dead_volume, 293.15)
    assert before == pytest.approx(charge, rel=1e-9)


@given(charges, volumes, dead, st.floats(1 * BAR, 50 * BAR))
def test_no_gas_is_lost_or_made(charge, volume, dead_volume, tool):
    after = pressure_after_joining_pa(charge, volume, dead_volume, 293.15, tool)
    held = nitrogen.density_kg_m3(after, 293.15) * (volume + dead_volume)
    given_mass = nitrogen.density_kg_m3(charge, 293.15) * volume
    given_mass += nitrogen.density_kg_m3(tool, 293.15) * dead_volume
    assert held == pytest.approx(given_mass, rel=1e-10)
    slack = 1e-9 * (charge + tool)
    assert min(charge, tool) - slack <= after <= max(charge, tool) + slack


REFUSED = [
    lambda: vented_kg(16 * BAR, -1.0, 293.15),
    lambda: vented_kg(70 * BAR, 3 * ML, 293.15),
    lambda: pressure_after_joining_pa(16 * BAR, 0.0, 3 * ML, 293.15),
    lambda: pressure_before_joining_pa(16 * BAR, -1.0, 3 * ML, 293.15),
    lambda: pressure_before_joining_pa(59 * BAR, 20 * ML, 20 * ML, 293.15),
]


@pytest.mark.parametrize("ask", REFUSED)
def test_out_of_range_is_refused_by_name(ask):
    with pytest.raises(RangeError) as refused:
        ask()
    assert refused.value.quantity in str(refused.value)
