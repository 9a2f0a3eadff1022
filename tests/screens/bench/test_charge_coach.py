"""Words at the valve fit the distance: far away, near, at the target and beyond it."""

import pytest

from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.charge_coach import (
    HEAT_RATIO,
    Fill,
    urge_of,
    when_settled,
    when_shut,
    while_filling,
)

CoolProp = pytest.importorskip("CoolProp.CoolProp")

WORDS = QuantityFormatter(UnitSystem.METRIC)
GOAL, HALF = 18.0e5, 0.3e5


def first(now_bar, rate_bar_s=0.1, kept=None, from_bar=0.0):
    fill = Fill(from_bar * 1e5, now_bar * 1e5, rate_bar_s * 1e5, kept)
    return while_filling(fill, GOAL, HALF, WORDS)[0][0]


@pytest.mark.parametrize(
    ("now", "rate", "said"),
    [
        (0.0, 0.0, "open the bottle valve slowly"),
        (3.0, 0.3, "open the bottle valve slowly"),
        (9.0, 0.3, "keep filling slowly"),
        (16.5, 0.1, "slow down"),
        (9.0, 2.5, "slow down"),
        (17.95, 0.1, "close now"),
        (19.5, 0.1, "close now"),
        (26.5, 0.1, "close now: too much"),
    ],
)
def test_while_gas_comes_in(now, rate, said):
    assert first(now, rate) == said


def test_after_a_fill_that_settled_it_is_filled_past_the_target_by_what_will_cool_off():
    assert first(18.2, kept=0.8, from_bar=10.0) == "slow down"
    assert first(20.1, kept=0.8, from_bar=10.0) == "close now"


def test_where_nothing_is_known_it_tells_between_what_it_will_settle():
    lines = while_filling(Fill(0.0, 18.0e5, 0.0), GOAL, HALF, WORDS)
    assert lines[0][0] == "close the bottle valve"
    low, high = Fill(0.0, 18.0e5, 0.0).settles_pa()
    assert (low, high) == (pytest.approx(18.0e5 / HEAT_RATIO), 18.0e5)
    lines = while_filling(Fill(0.0, 18.0e5, 1e4), GOAL, HALF, WORDS)
    assert lines[1][0] == "it will settle between 12.86 and 18.10 bar"


def test_a_shortfall_is_never_called_a_little_when_it_is_not():
    assert when_settled(3.0e5, GOAL, HALF, HALF)[0] == "too low: open the bottle valve slowly"
    assert when_settled(17.2e5, GOAL, HALF, HALF)[0] == "too low: let a little more in"
    assert when_settled(19.0e5, GOAL, HALF, HALF)[0] == "too high: vent a little"
    assert when_settled(18.1e5, GOAL, HALF, HALF)[0] == "in the window: capture"


@pytest.mark.parametrize("off", [-0.5e5, 0.5e5])
def test_what_only_the_units_temperature_puts_outside_is_measured_and_not_vented(off):
    assert when_settled(GOAL + off, GOAL, HALF, 0.6e5)[0] == "measure the unit: press A"
    assert when_settled(GOAL + off, GOAL, HALF, HALF)[0].startswith("too ")


def test_the_tone_quickens_towards_the_target_while_gas_comes_in():
    urges = [urge_of(Fill(0.0, bar * 1e5, 1e4), GOAL) for bar in (3.0, 14.0, 16.0, 18.0)]
    assert urges == sorted(urges)
    assert urges[0] == 0.0
    assert urges[-1] == 1.0
    assert urge_of(Fill(0.0, 17.0e5, 0.0), GOAL) == 0.0


def test_nitrogens_ratio_of_specific_heats_is_that_of_an_equation_of_state():
    """CoolProp, after Span et al., J. Phys. Chem. Ref. Data 29 (2000) 1361: thin, and at 20 bar."""
    thin, dense = (
        CoolProp.PropsSI("CPMASS", "T", 293.15, "P", pa, "Nitrogen")
        / CoolProp.PropsSI("CVMASS", "T", 293.15, "P", pa, "Nitrogen")
        for pa in (1e4, 20e5)
    )
    assert pytest.approx(thin, rel=2e-3) == HEAT_RATIO
    assert pytest.approx(dense, rel=0.05) == HEAT_RATIO


@pytest.mark.parametrize(
    ("now_bar", "falls", "words"),
    [
        (5.4, True, "too low: open the bottle valve slowly"),
        (14.5, True, "too low: let a little more in"),
        (14.9, True, "valve shut: let it settle"),
        (15.4, True, "valve shut: let it settle"),
        # Gas that was vented is cold and rises: nobody fills before it is known where it ends.
        (14.5, False, "valve shut: let it settle"),
    ],
)
def test_what_is_too_low_while_it_falls_is_not_waited_for(now_bar, falls, words):
    assert when_shut(now_bar * 1e5, 15e5, 0.3e5, falls=falls)[0] == words
