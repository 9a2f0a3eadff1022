"""Calibration lines against GUM H.3, and what blocks a capture."""

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.calibration import CheckWeight, LinearCalibration, fit_line
from benchstation.metrology.conformity import Decision
from benchstation.metrology.errors import MetrologyError
from tests.reference_rows import assert_agrees, row

FILE = "uncertainty.csv"
T = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
B = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)


def h3(quantity):
    return row(FILE, example="GUM H.3", quantity=quantity)


@pytest.fixture
def thermometer():
    """JCGM 100 H.3: corrections of a thermometer against t - 20 degC."""
    return fit_line([t - 20.0 for t in T], B)


def test_gum_h3_line(thermometer):
    assert_agrees(h3("intercept"), thermometer.intercept)
    assert_agrees(h3("u_intercept"), thermometer.u_intercept)
    assert_agrees(h3("slope"), thermometer.slope)
    assert_agrees(h3("correlation"), thermometer.correlation)
    assert_agrees(h3("correction_at_30C"), thermometer.value(10.0))
    assert_agrees(h3("sum_squared_residuals"), sum(r * r for r in thermometer.residuals))
    assert thermometer.dof == 9


def test_gum_h3_from_memory(thermometer):
    """H.3.3 and H.3.4 as remembered: u(slope) 0.000 67, s 0.0035 degC, u(30 degC) 0.0041 degC."""
    assert thermometer.u_slope == pytest.approx(0.00067, abs=5e-6)
    assert thermometer.residual_std == pytest.approx(0.0035, abs=5e-5)
    assert thermometer.u(10.0) == pytest.approx(0.0041, abs=5e-5)


def test_the_line_becomes_the_calibration(thermometer):
    calibration = thermometer.calibration(date(2030, 1, 1))
    assert calibration.apply(10.0) == pytest.approx(thermometer.value(10.0))
    assert calibration.u(10.0) == pytest.approx(thermometer.u(10.0))


@given(st.floats(0.5, 2.0), st.floats(-1.0, 1.0), st.lists(st.floats(-10, 10), min_size=3))
def test_an_exact_line_is_found(gain, offset, readings):
    if max(readings) - min(readings) < 0.1:
        return
    line = fit_line(readings, [gain * x + offset for x in readings])
    assert line.slope == pytest.approx(gain, abs=1e-9)
    assert line.intercept == pytest.approx(offset, abs=1e-9)
    assert line.residual_std == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("readings", "values"),
    [
        ([1.0, 2.0], [1.0, 2.0]),
        ([1.0, 2.0, 3.0], [1.0, 2.0]),
        ([1.0, 1.0, 1.0], [1.0, 2.0, 3.0]),
        ([1.0, 2.0, math.nan], [1.0, 2.0, 3.0]),
        ([1.0, 2.0, 3.0], [1.0, 2.0, math.inf]),
    ],
)
def test_points_that_make_no_line_are_refused(readings, values):
    with pytest.raises(MetrologyError):
        fit_line(readings, values)


def test_u_grows_from_slope_and_offset():
    """sqrt(u0**2 + (u1 x)**2 + 2 r u0 u1 x), GUM equation 16 for two inputs."""
    free = LinearCalibration(u_offset=3.0, u_gain=2.0)
    assert free.u(2.0) == pytest.approx(5.0)
    tied = LinearCalibration(u_offset=3.0, u_gain=2.0, correlation=-1.0)
    assert tied.u(2.0) == pytest.approx(1.0)
    assert tied.u(1.5) == 0.0


@pytest.mark.parametrize(
    ("due", "is_due"), [(date(2026, 5, 1), False), (date(2026, 4, 30), True), (None, True)]
)
def test_due_after_its_last_day(due, is_due):
    assert LinearCalibration(due=due).is_due(date(2026, 5, 1)) is is_due


@pytest.mark.parametrize(
    "bad",
    [
        {"gain": 0.0},
        {"gain": -1.0},
        {"gain": math.nan},
        {"offset": math.inf},
        {"u_offset": -1.0},
        {"u_gain": math.nan},
        {"correlation": 1.1},
        {"correlation": math.nan},
    ],
)
def test_a_calibration_that_makes_no_sense_is_refused(bad):
    with pytest.raises(MetrologyError):
        LinearCalibration(**bad)


@pytest.mark.parametrize(
    ("observed", "passed"),
    [(200.0, True), (200.05, True), (199.95, True), (200.06, False), (math.nan, False)],
)
def test_check_weight(observed, passed):
    check = CheckWeight(200.0, observed, 0.05000001)
    assert check.passed is passed


def test_check_weight_with_its_uncertainty():
    check = CheckWeight(200.0, 200.04, 0.05, u_nominal=0.003)
    assert check.deviation == pytest.approx(0.04)
    sharp = check.conformity(0.004)
    assert sharp.decision is Decision.PASS
    assert sharp.guard_band == 0.0
    assert check.conformity(0.004, 2.0).decision is Decision.PASS
    assert check.conformity(0.04, 2.0).decision is Decision.UNDECIDED
