"""A gauge that stands still: told from its own noise where that can be told, and else not."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.metrology.standstill import standstill

BEFORE, HOLD = 300, 300
T = np.arange(BEFORE + HOLD) / 10


def shown(pressure, noise, step, seed=0):
    """Readings at 10 Hz, rounded to the digit."""
    chance = np.random.default_rng(seed)
    return np.round((pressure + chance.normal(0, noise, T.size)) / step) * step


def stuck_from(values, index):
    return np.where(np.arange(values.size) < index, values, values[index])


def test_a_lively_gauge_is_alive():
    found = standstill(T, shown(15e5, 150.0, 100.0), BEFORE, 100.0)
    assert not found.stuck
    assert not found.whole
    assert found.seconds < 2.0


@pytest.mark.parametrize("index", [BEFORE, BEFORE - 100, BEFORE + 50, BEFORE + 150])
def test_a_gauge_that_freezes_is_stuck_whenever_it_does(index):
    found = standstill(T, stuck_from(shown(15e5, 150.0, 100.0), index), BEFORE, 100.0)
    assert found.stuck
    assert found.whole is (index <= BEFORE)
    assert found.seconds == pytest.approx((T.size - 1 - max(index, BEFORE)) / 10, abs=0.3)


@given(place=st.floats(0, 1e4), noise=st.floats(0, 1500), seed=st.integers(0, 50))
@settings(max_examples=60)
def test_a_coarse_gauge_on_a_tight_unit_is_never_called_stuck(place, noise, seed):
    """Steps of 0.1 bar, the pressure anywhere in its digit, noise well under it."""
    values = shown(15e5 + place, noise, 1e4, seed)
    assert not standstill(T, values, BEFORE, 1e4).stuck
    assert not standstill(T, stuck_from(values, BEFORE), BEFORE, 1e4).stuck


def test_a_coarse_gauge_that_flickered_at_the_edge_of_a_digit_may_rest_within_it():
    at_the_edge = np.where(np.arange(T.size) < BEFORE, 15e5 + 5e3, 15e5)
    found = standstill(T, shown(at_the_edge, 300.0, 1e4), BEFORE, 1e4)
    assert found.whole
    assert not found.stuck


@given(
    place=st.floats(0, 1),
    noise=st.floats(0.1, 3.0),
    drop=st.floats(0, 40),
    seed=st.integers(0, 10_000),
)
@settings(max_examples=150)
def test_a_gauge_that_is_alive_is_not_called_stuck(place, noise, drop, seed):
    """Whatever its noise in digits, and also while the gas cools before the hold."""
    pressure = place + drop * np.exp(-T / 6.0)
    assert not standstill(T, shown(pressure, noise, 1.0, seed), BEFORE, 1.0).stuck


def test_without_readings_before_nothing_is_concluded():
    values = np.full(T.size, 15e5)
    found = standstill(T, values, BEFORE, 100.0)
    assert (found.whole, found.stuck) == (True, False)
    assert not standstill(T[:1], values[:1], 0, 100.0).stuck
    assert not standstill(T[:0], values[:0], 0, 100.0).whole


def test_a_fall_before_the_hold_is_no_noise():
    falling = np.where(np.arange(T.size) < BEFORE, 15e5 - 300 * np.arange(T.size), 14.1e5)
    assert not standstill(T, shown(falling, 10.0, 100.0), BEFORE, 100.0).stuck


def test_the_digit_is_taken_from_the_readings_where_the_device_names_none():
    values = shown(15e5, 150.0, 100.0)
    assert standstill(T, stuck_from(values, BEFORE), BEFORE, 0.0).stuck
    coarse = shown(15e5 + 5e3, 300.0, 1e4)
    assert not standstill(T, stuck_from(coarse, BEFORE), BEFORE, 0.0).stuck
