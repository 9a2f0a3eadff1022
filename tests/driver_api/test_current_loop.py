"""NAMUR NE 43 limits, row by row, and the scaling of a loop current."""

import math

import pytest

from benchstation.driver_api import current_loop
from benchstation.driver_api.current_loop import LoopSignal, classify_current, value_of_current
from tests.reference_rows import row, rows

FILE = "current_loop.csv"


@pytest.mark.parametrize("reference", rows(FILE, quantity="NE43_classification"), ids=str)
def test_classification(reference):
    wanted = reference["value"].replace(" (", ", ").removesuffix(")")
    assert classify_current(reference.number("mA") * 1e-3) == wanted


@pytest.mark.parametrize("reference", rows(FILE, quantity="linear_scaling"), ids=str)
def test_scaling(reference):
    low, high = reference.number("range_low"), reference.number("range_high")
    value = value_of_current(reference.number("mA") * 1e-3, low, high)
    assert value == pytest.approx(reference.number(), rel=1e-9, abs=1e-12 * (high - low))


@pytest.mark.parametrize(
    ("quantity", "constant"),
    [
        ("NE43:measuring_band_low", current_loop.MEASURING_LOW_A),
        ("NE43:failure_low_at_or_below", current_loop.FAILURE_LOW_A),
        ("NE43:failure_high_at_or_above", current_loop.FAILURE_HIGH_A),
        ("constant:live_zero", current_loop.ZERO_A),
        ("constant:full_scale", current_loop.FULL_A),
    ],
)
def test_limits_are_those_published(quantity, constant):
    assert row(FILE, quantity=quantity).number() * 1e-3 == pytest.approx(constant, rel=1e-12)


@pytest.mark.parametrize("current_ma", [-4.0, 0.0, 3.6, 3.7, 20.6, 21.0, math.inf, math.nan])
def test_no_value_outside_the_measuring_band(current_ma):
    assert value_of_current(current_ma * 1e-3, 0.0, 25e5) is None


@pytest.mark.parametrize(
    ("current_ma", "signal"),
    [
        (3.6, LoopSignal.FAILURE_LOW),
        (3.8, LoopSignal.VALID_BELOW_ZERO),
        (20.0, LoopSignal.VALID),
        (20.5, LoopSignal.VALID_ABOVE_FULL),
        (21.0, LoopSignal.FAILURE_HIGH),
    ],
)
def test_limits_belong_where_the_recommendation_puts_them(current_ma, signal):
    assert classify_current(current_ma * 1e-3) is signal
