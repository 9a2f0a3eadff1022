"""Normal, Student's t and chi-squared against the GUM's table G.2 and a reference library."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.distributions import (
    chi_squared_quantile,
    coverage_factor,
    incomplete_beta,
    incomplete_gamma,
    normal_cdf,
    normal_quantile,
    student_cdf,
    student_quantile,
)
from tests.reference_rows import assert_agrees, rows

FILE = "uncertainty.csv"
special = pytest.importorskip("scipy.special")


def named(reference):
    """Numbers written as ``p=0.95 nu=16``."""
    return {k: float(v) for k, v in (part.split("=") for part in reference["inputs"].split())}


@pytest.mark.parametrize("reference", rows(FILE, quantity="t_factor_published"), ids=str)
def test_gum_table_g2(reference):
    given_values = named(reference)
    assert_agrees(reference, coverage_factor(given_values["p"], given_values["nu"]))


@pytest.mark.parametrize("reference", rows(FILE, quantity="coverage_factor_normal"), ids=str)
def test_coverage_of_a_normal_distribution(reference):
    assert_agrees(reference, coverage_factor(named(reference)["p"]))


@pytest.mark.parametrize("reference", rows(FILE, quantity="t_95"), ids=str)
def test_t_at_95_percent(reference):
    assert_agrees(reference, coverage_factor(0.95, named(reference)["nu"]))


@given(st.floats(-30, 30), st.floats(0.5, 1e6))
def test_t_against_the_reference_library(t, dof):
    assert student_cdf(t, dof) == pytest.approx(special.stdtr(dof, t), abs=1e-9)


@given(st.floats(-30, -2), st.floats(0.5, 1e3))
def test_the_tail_of_t_keeps_its_digits(t, dof):
    assert student_cdf(t, dof) == pytest.approx(special.stdtr(dof, t), rel=1e-8)


@given(st.floats(0.1, 50), st.floats(0.1, 50), st.floats(0, 1))
def test_incomplete_beta_against_the_reference_library(a, b, x):
    expected = special.betainc(a, b, x)
    assert incomplete_beta(a, b, x) == pytest.approx(expected, rel=1e-8, abs=1e-12)


@given(st.floats(0.6, 0.9999), st.floats(0.5, 1e6))
def test_the_quantile_undoes_the_distribution(p, dof):
    assert student_cdf(student_quantile(p, dof), dof) == pytest.approx(p, abs=1e-9)
    assert student_quantile(1.0 - p, dof) == pytest.approx(-student_quantile(p, dof), rel=1e-6)


@given(st.floats(-8, 8))
def test_normal_tails(x):
    assert normal_cdf(x) == pytest.approx(special.ndtr(x), rel=1e-12)


@given(st.floats(1e-9, 1 - 1e-9))
def test_normal_quantile(p):
    assert normal_cdf(normal_quantile(p)) == pytest.approx(p, rel=1e-9)


def test_many_degrees_of_freedom_are_normal():
    assert coverage_factor(0.95, math.inf) == pytest.approx(1.959963985, abs=1e-8)
    assert coverage_factor(0.95, 1e9) == coverage_factor(0.95)
    assert student_quantile(0.5, 3.0) == 0.0
    assert student_cdf(0.0, 3.0) == pytest.approx(0.5)


@given(st.floats(0.1, 500), st.floats(0, 1500))
def test_incomplete_gamma_against_the_reference_library(a, x):
    assert incomplete_gamma(a, x) == pytest.approx(special.gammainc(a, x), rel=1e-9, abs=1e-12)


@given(st.floats(0.001, 0.999), st.floats(0.5, 1000))
def test_chi_squared_quantile_against_the_reference_library(p, dof):
    assert chi_squared_quantile(p, dof) == pytest.approx(special.chdtri(dof, 1 - p), rel=1e-7)
