"""Bottle arithmetic: counting fills one by one must give the same number."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.physics import nitrogen
from benchstation.physics.bottle import Bottle, bottle_forecast, fill_kg
from benchstation.physics.errors import RangeError

CoolProp = pytest.importorskip("CoolProp.CoolProp")
BAR, ML, L, AMBIENT = 1e5, 1e-6, 1e-3, 101_325.0
TEN_LITRES = Bottle(10 * L, 200 * BAR)


def density(pressure, temperature=293.15):
    return CoolProp.PropsSI("D", "P", pressure, "T", temperature, "Nitrogen")


def test_a_worked_example():
    """10 L from 200 bar gauge, 90 mL of gas and 3 mL of tool to 15 bar gauge, 20 degC.

    Reference equation: rho = 219.50 at 200, 18.465 at 15 and 1.1648 kg/m3 at 0 bar gauge. A fill
    draws 93 mL (18.465 - 1.165) = 1.6089 g; (2.1950 - 0.1846) kg / 1.6089 g = 1249.5 fills.
    """
    drawn = 93 * ML * (density(15 * BAR + AMBIENT) - density(AMBIENT))
    have, kept = (10 * L * density(p * BAR + AMBIENT) for p in (200, 15))
    assert TEN_LITRES.content_kg == pytest.approx(have, rel=1e-3)
    found = bottle_forecast(TEN_LITRES, 15 * BAR, 90 * ML, dead_volume_m3=3 * ML)
    assert found.drawn_per_fill_kg == pytest.approx(drawn, rel=5e-4)
    assert (have - kept) / drawn == pytest.approx(1249.5, abs=0.1)
    assert found.fills_left == pytest.approx(1249, abs=1)
    assert found.after_last_pa >= 15 * BAR
    assert found.last_fill_from_pa >= found.change_below_pa


@given(
    st.floats(0.5, 20), st.floats(20, 250), st.floats(5, 40), st.floats(20, 200), st.floats(0, 10)
)
@settings(max_examples=60)
def test_counting_one_by_one_gives_the_same(litres, bar, target, gas_ml, drop):
    bottle = Bottle(litres * L, bar * BAR)
    found = bottle_forecast(
        bottle, target * BAR, gas_ml * ML, dead_volume_m3=3 * ML, regulator_drop_pa=drop * BAR
    )
    drawn = fill_kg(target * BAR, gas_ml * ML, dead_volume_m3=3 * ML)
    needed = (target + drop) * BAR
    content = bottle.content_kg
    if found.fills_left:
        after_last = bottle.gauge_with_pa(content - found.fills_left * drawn)
        assert after_last == pytest.approx(found.after_last_pa)
        assert after_last >= needed * (1 - 1e-6)
        assert found.last_fill_from_pa > found.after_last_pa
    rest = content - (found.fills_left + 1) * drawn
    assert rest < 0 or bottle.gauge_with_pa(rest) < needed * (1 + 1e-6)


def test_just_above_the_change_pressure_one_fill_reaches_and_just_below_none():
    lowest = bottle_forecast(TEN_LITRES, 15 * BAR, 90 * ML).change_below_pa
    assert bottle_forecast(Bottle(10 * L, lowest * 1.0001), 15 * BAR, 90 * ML).fills_left == 1
    none = bottle_forecast(Bottle(10 * L, lowest * 0.9999), 15 * BAR, 90 * ML)
    assert none.fills_left == 0
    assert math.isnan(none.after_last_pa)


def test_an_empty_bottle_gives_nothing():
    assert bottle_forecast(Bottle(10 * L, 5 * BAR), 15 * BAR, 90 * ML).fills_left == 0


def test_the_ideal_count_of_a_full_bottle_is_too_high():
    """At 300 bar gauge nitrogen is 12.4 % less dense than an ideal gas: Boyle overstates."""
    full = Bottle(10 * L, 300 * BAR)
    ideal = 10 * L * (300 * BAR + AMBIENT) / (nitrogen.R_N2 * 293.15)
    assert full.content_kg < 0.9 * ideal
    assert full.content_kg == pytest.approx(10 * L * density(300 * BAR + AMBIENT), rel=1e-3)


@given(st.floats(5, 30), st.floats(1.01, 1.5))
@settings(max_examples=25)
def test_more_charge_means_fewer_fills(target, factor):
    some = bottle_forecast(TEN_LITRES, target * BAR, 90 * ML)
    more = bottle_forecast(TEN_LITRES, target * factor * BAR, 90 * ML)
    assert more.fills_left <= some.fills_left
    assert more.drop_per_fill_pa > some.drop_per_fill_pa > 0


REFUSED = [
    lambda: Bottle(10 * L, 400 * BAR),
    lambda: Bottle(0.0, 200 * BAR),
    lambda: Bottle(10 * L, 200 * BAR, ambient_pa=10.0),
    lambda: bottle_forecast(TEN_LITRES, 0.0, 90 * ML),
    lambda: bottle_forecast(TEN_LITRES, 15 * BAR, 0.0),
    lambda: bottle_forecast(TEN_LITRES, 70 * BAR, 90 * ML),
    lambda: bottle_forecast(TEN_LITRES, 15 * BAR, 90 * ML, dead_volume_m3=-1.0),
    lambda: bottle_forecast(TEN_LITRES, 15 * BAR, 90 * ML, regulator_drop_pa=-1.0),
]


@pytest.mark.parametrize("ask", REFUSED)
def test_out_of_range_is_refused_by_name(ask):
    with pytest.raises(RangeError) as refused:
        ask()
    assert refused.value.quantity in str(refused.value)
