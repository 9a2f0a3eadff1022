"""Pass, fail, undecided: JCGM 106 probabilities and ISO 14253-1 zones."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.conformity import (
    GUARD_FACTOR,
    Decision,
    conformity_probability,
    judge,
    rule_in_words,
)
from benchstation.metrology.distributions import normal_quantile
from benchstation.metrology.errors import MetrologyError
from tests.reference_rows import assert_agrees, row, rows

FILE = "uncertainty.csv"


def named(text):
    found = dict(re.findall(r"(\w+)=(\S+)", text))
    return {k: None if v == "None" else float(v) for k, v in found.items()}


@pytest.mark.parametrize("reference", rows(FILE, quantity="conformance_probability"), ids=str)
def test_probability_of_conformity(reference):
    at = named(reference["inputs"])
    assert_agrees(reference, conformity_probability(at["y"], at["u"], at["T_L"], at["T_U"]))


@pytest.mark.parametrize("reference", rows(FILE, quantity="guard_band_factor_one_sided"), ids=str)
def test_guard_band_factor(reference):
    assert_agrees(reference, normal_quantile(named(reference["inputs"])["p"]))


@pytest.mark.parametrize(
    "reference",
    [
        *rows(FILE, quantity="acceptance_lower_limit"),
        *rows(FILE, quantity="acceptance_upper_limit"),
    ],
    ids=str,
)
def test_acceptance_limits(reference):
    at = named(reference["inputs"])
    verdict = judge(10.0, at["u"], at["T_L"], at["T_U"], normal_quantile(at["p"]))
    lower = reference["quantity"] == "acceptance_lower_limit"
    assert_agrees(reference, verdict.acceptance_lower if lower else verdict.acceptance_upper)


def test_the_guard_band_leaves_five_percent():
    reference = row(FILE, quantity="guard_band_factor_one_sided", inputs="p=0.95")
    assert_agrees(reference, GUARD_FACTOR)
    at_the_limit = judge(100.0, 1.0, None, 100.0 + GUARD_FACTOR)
    assert at_the_limit.probability == pytest.approx(0.95, abs=1e-6)


@pytest.mark.parametrize(
    ("value", "decision"),
    [
        (9.7, Decision.FAIL),
        (9.75, Decision.UNDECIDED),
        (9.85, Decision.UNDECIDED),
        (9.89, Decision.PASS),
        (10.0, Decision.PASS),
        (10.11, Decision.PASS),
        (10.12, Decision.UNDECIDED),
        (10.28, Decision.UNDECIDED),
        (10.29, Decision.FAIL),
    ],
)
def test_zones(value, decision):
    """ISO 14253-1 with limits 9.8 and 10.2 and u = 0.05: bands of 0.082 on either side."""
    assert judge(value, 0.05, 9.8, 10.2).decision is decision


@given(st.floats(-5, 5), st.floats(0, 2), st.floats(-2, 0), st.floats(0, 2), st.floats(0, 3))
def test_a_pass_is_inside_and_a_fail_outside(value, u, low, high, factor):
    verdict = judge(value, u, low, high, factor)
    if verdict.decision is Decision.PASS:
        assert low <= value <= high
        assert verdict.can_pass
    if verdict.decision is Decision.FAIL:
        assert value < low or value > high
    assert 0.0 <= verdict.probability <= 1.0


@given(st.floats(-5, 5), st.floats(0.01, 2))
def test_probability_is_symmetrical(value, u):
    here = conformity_probability(value, u, -1.0, 1.0)
    assert here == pytest.approx(conformity_probability(-value, u, -1.0, 1.0), abs=1e-14)


@given(st.floats(-3, 3), st.floats(0.01, 2))
def test_a_one_sided_limit_is_a_far_two_sided_one(value, u):
    one = conformity_probability(value, u, None, 1.0)
    assert one == pytest.approx(conformity_probability(value, u, -1e6, 1.0), abs=1e-12)


def test_too_uncertain_ever_to_pass():
    verdict = judge(10.0, 0.2, 9.8, 10.2)
    assert not verdict.can_pass
    assert verdict.decision is Decision.UNDECIDED


def test_without_uncertainty_the_limits_are_sharp():
    assert judge(10.2, 0.0, 9.8, 10.2).decision is Decision.PASS
    assert judge(10.2000001, 0.0, 9.8, 10.2).decision is Decision.FAIL
    assert conformity_probability(10.3, 0.0, 9.8, 10.2) == 0.0


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_is_never_decided(value):
    verdict = judge(value, 0.1, 0.0, 1.0)
    assert verdict.decision is Decision.UNDECIDED
    assert math.isnan(verdict.probability)


@pytest.mark.parametrize(
    ("u", "low", "high", "factor"),
    [
        (-0.1, 0.0, 1.0, 1.0),
        (math.nan, 0.0, 1.0, 1.0),
        (math.inf, 0.0, 1.0, 1.0),
        (0.1, 1.0, 0.0, 1.0),
        (0.1, math.nan, 1.0, 1.0),
        (0.1, 0.0, 1.0, -1.0),
        (0.1, 0.0, 1.0, math.nan),
    ],
)
def test_limits_that_make_no_sense_are_refused(u, low, high, factor):
    with pytest.raises(MetrologyError):
        judge(0.5, u, low, high, factor)


def test_the_rule_in_words():
    assert rule_in_words() == (
        "Guarded acceptance: a result passes when it lies within the limits by at least 1.64 u, u "
        "being its standard uncertainty; it fails when it lies outside them by more than that; "
        "between the two it is undecided. A result that passes is beyond either limit with a "
        "probability of 5 % at most."
    )
    assert "2.3 %" in rule_in_words(2.0)
    assert rule_in_words(0.0).startswith("Simple acceptance")


def test_the_rule_keeps_its_word():
    """At the acceptance limit the nearer tolerance limit is exceeded with the stated risk."""
    narrow = judge(9.8 + GUARD_FACTOR * 0.12, 0.12, 9.8, 10.2)
    assert narrow.decision is Decision.PASS
    assert 1.0 - conformity_probability(9.8 + GUARD_FACTOR * 0.12, 0.12, 9.8, None) < 0.0500001
    assert narrow.probability < 0.95
