"""Drift between calibrations: real or not, and what interval it leaves."""

import math
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.calibration import LinearCalibration
from benchstation.metrology.drift import DAYS_A_YEAR, drift_between, trend
from benchstation.metrology.errors import MetrologyError

FIRST = date(2024, 3, 1)


def moved(offset=0.0, gain=1.0, u=0.01):
    return LinearCalibration(gain, offset, u_offset=u)


def test_change_at_a_reading():
    drift = drift_between(moved(), moved(0.02, 1.001), 50.0, 365)
    assert drift.change == pytest.approx(0.07)
    assert drift.u_change == pytest.approx(0.01 * math.sqrt(2))
    assert drift.per_year == pytest.approx(0.07 * DAYS_A_YEAR / 365)


@pytest.mark.parametrize(("change", "proved"), [(0.028, False), (0.029, True), (-0.029, True)])
def test_proved_beyond_both_expanded_uncertainties(change, proved):
    """E_n = |d|/sqrt(U1**2 + U2**2), here U = 0.02 each, so 0.0283."""
    drift = drift_between(moved(), moved(change), 0.0, 100)
    assert drift.proved is proved
    assert drift.e_n == pytest.approx(abs(change) / math.hypot(0.02, 0.02))


def test_without_uncertainty_any_change_is_real():
    assert drift_between(moved(u=0.0), moved(1e-9, u=0.0), 0.0, 1).proved
    assert not drift_between(moved(u=0.0), moved(u=0.0), 0.0, 1).proved


def test_what_drift_adds_to_a_budget():
    """Rectangular of the same rate: 0.02 in 100 days is 0.01/sqrt(3) after 50."""
    part = drift_between(moved(), moved(-0.02), 0.0, 100).part(50)
    assert part.u == pytest.approx(0.01 / math.sqrt(3))


@given(st.floats(-0.1, 0.1), st.floats(1e-4, 0.05), st.floats(0.01, 1), st.integers(1, 1000))
def test_interval(change, u, allowed, days):
    drift = drift_between(moved(u=u), moved(change, u=u), 0.0, days)
    interval = drift.longest_interval_days(allowed)
    used = (abs(drift.change) + 2 * drift.u_change) / days * interval
    assert used == pytest.approx(allowed)


def test_nothing_moved_lasts():
    still = drift_between(moved(u=0.0), moved(u=0.0), 0.0, 10)
    assert still.longest_interval_days(0.1) == math.inf


def history(errors):
    return [(FIRST + timedelta(100 * n), error) for n, error in enumerate(errors)]


def test_trend():
    found = trend(history([0.01, 0.02, 0.03, 0.04]))
    assert found.per_day == pytest.approx(1e-4)
    assert found.proved
    assert found.on(FIRST + timedelta(500)) == pytest.approx(0.06)


def test_scatter_is_no_trend():
    assert not trend(history([0.01, -0.01, 0.012, -0.009, 0.01])).proved


@pytest.mark.parametrize(
    "make",
    [
        lambda: drift_between(moved(), moved(), 0.0, 0),
        lambda: drift_between(moved(), moved(), math.nan, 10),
        lambda: drift_between(moved(), moved(), 0.0, 10).longest_interval_days(0.0),
        lambda: trend(history([0.1, 0.2])),
        lambda: trend([(FIRST, 0.1)] * 3),
    ],
)
def test_what_tells_no_drift_is_refused(make):
    with pytest.raises(MetrologyError):
        make()
