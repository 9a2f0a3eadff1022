"""The gas by its mass: what a sealed unit must have gained, and what a scale can tell of it."""

import pytest

from benchstation.domain.events import ChargeCaptured, UnitWeighed
from benchstation.domain.gas_mass import Gain, expected_kg, gain_of
from benchstation.metrology.conformity import Decision

CHARGE = ChargeCaptured(
    "u1", "charge", "gauge-1", 15e5, 15e5, 15e5, 4e4, 5e3, 1e4, 2.0, "pass", 0.99,
    293.15, 101_325.0, 1.0e-4, 1.8e-3, "00" * 32, "", {}, (),
)  # fmt: skip


def weighed(kg: float, *, after: bool, step_kg: float = 1e-5) -> UnitWeighed:
    return UnitWeighed("u1", "x", after, "scale-1", "c", 3e-5, kg, 1e-5, 16, step_kg, "")


def gained(kg: float, step_kg: float = 1e-5) -> Gain:
    before = weighed(1.3, after=False, step_kg=step_kg)
    return gain_of(CHARGE, before, weighed(1.3 + kg, after=True, step_kg=step_kg))


def test_the_expected_gain_is_near_that_of_an_ideal_gas():
    # m = dp V / (R T), R of nitrogen 296.80 J/(kg K) (NIST Chemistry WebBook, from memory).
    ideal = 15e5 * 1.0e-4 / (296.80 * 293.15)
    assert expected_kg(CHARGE, CHARGE.settled_gauge_pa) == pytest.approx(ideal, rel=0.01)


def test_a_unit_that_gained_its_gas_passes():
    assert gained(expected_kg(CHARGE, 15e5)).decision is Decision.PASS


@pytest.mark.parametrize("share", [0.0, 0.5, 0.85, 1.2, 1.6])
def test_a_unit_that_gained_no_gas_or_another_amount_fails(share):
    assert gained(share * expected_kg(CHARGE, 15e5)).decision is Decision.FAIL


def test_a_scale_that_is_too_coarse_tells_nothing():
    coarse = gained(expected_kg(CHARGE, 15e5), step_kg=1e-3)
    assert not coarse.adequate
    assert coarse.decision is Decision.UNDECIDED
