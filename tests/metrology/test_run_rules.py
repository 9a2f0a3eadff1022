"""Patterns on a chart: each rule just fulfilled, and just not."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.distributions import normal_cdf
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.run_rules import ZONE_RULES, Rule, Signal, run_rules
from tests.reference_rows import assert_agrees, row, rows

UP_DOWN = [0.4, -0.4] * 7
EDGE = {
    Rule.BEYOND_LIMIT: ([3.01], [3.0]),
    Rule.TWO_FAR_OUT: ([2.1, 0.1, 2.1], [2.1, 0.1, -2.1]),
    Rule.FOUR_OUTSIDE: ([-1.1, -1.1, 0.5, -1.1, -1.1], [-1.1, -1.1, 0.5, 0.5, -1.1]),
    Rule.ONE_SIDED: ([0.1] * 8, [0.1] * 7 + [0.0]),
    Rule.TREND: ([0.0, 0.1, 0.2, 0.3, 0.4, 0.5], [0.0, 0.1, 0.2, 0.3, 0.3, 0.5]),
    Rule.SAWTOOTH: (UP_DOWN, [*UP_DOWN[:-1], 0.5]),
    Rule.TOO_CLOSE: ([0.9] * 15, [0.9] * 14 + [1.0]),
    Rule.TOO_FAR: ([1.1, -1.1] * 4, [1.1] * 8),
}


@pytest.mark.parametrize("reference", rows("spc.csv", quantity="run_rule"), ids=str)
def test_the_published_rules_are_there(reference):
    assert reference["value"] in {rule.value for rule in Rule}


def test_in_control_run_length():
    """One in 370 points of a normal process in control is beyond 3 sigma by chance."""
    assert_agrees(row("spc.csv", quantity="in_control_ARL_3_sigma"), 0.5 / normal_cdf(-3.0))


@pytest.mark.parametrize("rule", Rule)
def test_each_rule_at_its_edge(rule):
    fulfilled, short = EDGE[rule]
    last = len(fulfilled) - 1
    assert run_rules(fulfilled, 0.0, 1.0, [rule]) == (Signal(rule, 0, last),)
    assert run_rules(short, 0.0, 1.0, [rule]) == ()


@pytest.mark.parametrize("rule", Rule)
def test_mirrored_alike(rule):
    mirrored = [-v for v in EDGE[rule][0]]
    assert len(run_rules(mirrored, 0.0, 1.0, [rule])) == 1


def test_the_first_two_of_a_chart_may_be_two_of_three():
    assert run_rules([2.5, 2.5], 0.0, 1.0) == (Signal(Rule.TWO_FAR_OUT, 0, 1),)


def test_the_point_that_completes_belongs_to_the_pattern():
    assert run_rules([2.5, 2.5, 0.0], 0.0, 1.0)[-1].last == 1


def test_a_pattern_that_goes_on_signals_on():
    signals = run_rules([0.5] * 10, 0.0, 1.0)
    assert [s.last for s in signals] == [7, 8, 9]
    assert {s.rule for s in signals} == {Rule.ONE_SIDED}


def test_only_the_zone_rules_unless_asked():
    assert run_rules(EDGE[Rule.TREND][0], 0.25, 1.0) == ()
    assert Rule.TREND not in ZONE_RULES


@given(
    st.lists(st.integers(-40, 40).map(lambda v: v / 10 + 0.05), max_size=30),
    st.integers(-5, 5),
    st.sampled_from([0.5, 2.0, 8.0]),
)
def test_rules_see_only_the_zones(z, centre, sigma):
    plain = run_rules(z, 0.0, 1.0, Rule)
    moved = run_rules([centre + sigma * v for v in z], centre, sigma, Rule)
    assert [s for s in plain if s.rule not in {Rule.TREND, Rule.SAWTOOTH}] == [
        s for s in moved if s.rule not in {Rule.TREND, Rule.SAWTOOTH}
    ]


@pytest.mark.parametrize(
    ("values", "sigma"), [([1.0], 0.0), ([1.0], float("nan")), ([float("inf")], 1.0)]
)
def test_what_has_no_zones_is_refused(values, sigma):
    with pytest.raises(MetrologyError):
        run_rules(values, 0.0, sigma)
