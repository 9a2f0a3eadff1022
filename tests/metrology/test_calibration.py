"""The calibration in use, its uncertainty, and what blocks a capture."""

import math
from datetime import date

import pytest

from benchstation.metrology.calibration import CheckWeight, LinearCalibration
from benchstation.metrology.conformity import Decision
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.line_fit import fit_line


def test_the_line_becomes_the_calibration():
    thermometer = fit_line([1.0, 2.0, 4.0, 5.0], [1.1, 2.0, 4.1, 4.9])
    calibration = LinearCalibration.of_line(thermometer, date(2030, 1, 1))
    assert calibration.apply(10.0) == pytest.approx(thermometer.value(10.0))
    assert calibration.u(10.0) == pytest.approx(thermometer.u(10.0))


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
