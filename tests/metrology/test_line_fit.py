"""Straight lines against GUM H.3, and lines through two points."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.line_fit import fit_line, two_point_line
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


@given(st.floats(-5, 5), st.floats(0, 1), st.floats(0, 1))
def test_two_points_carry_their_own_uncertainty(place, u_low, u_high):
    """At each point its own, between them the mix of GUM 5.1.2."""
    line = two_point_line((1.0, 1.5), (3.0, 4.5), u_low, u_high)
    assert line.value(1.0) == pytest.approx(1.5)
    assert line.value(3.0) == pytest.approx(4.5)
    mixed = math.hypot((3.0 - place) * u_low, (place - 1.0) * u_high) / 2.0
    assert line.u(place) == pytest.approx(mixed, abs=1e-7)


def test_two_predictions_of_one_line_move_together(thermometer):
    """u(difference)**2 = u1**2 + u2**2 - 2 cov is what the slope alone gives."""
    a, b = thermometer.u(2.0), thermometer.u(5.0)
    difference = a * a + b * b - 2 * thermometer.covariance(2.0, 5.0)
    assert difference == pytest.approx((3.0 * thermometer.u_slope) ** 2, rel=1e-9)


@pytest.mark.parametrize(
    ("low", "high", "u"),
    [
        ((1.0, 1.0), (1.0, 2.0), 0.1),
        ((1.0, math.nan), (2.0, 2.0), 0.1),
        ((1.0, 1.0), (2.0, 2.0), -0.1),
        ((1.0, 1.0), (2.0, 2.0), math.inf),
    ],
)
def test_two_points_that_make_no_line_are_refused(low, high, u):
    with pytest.raises(MetrologyError):
        two_point_line(low, high, u, 0.1)
