"""Is the instrument good enough: JCGM 106's capability index and what would reach it."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.adequacy import Fitness, adequacy, largest_part
from benchstation.metrology.conformity import Decision, judge
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.uncertainty import Budget, normal, resolution


@pytest.mark.parametrize(
    ("u", "fitness"),
    [(0.06, Fitness.GOOD), (0.07, Fitness.USABLE), (0.3, Fitness.USABLE), (0.31, Fitness.UNFIT)],
)
def test_fitness_for_one_unit_of_tolerance(u, fitness):
    """C_m = T/(4u): 4 at u = 1/16; no acceptance zone is left beyond u = 1/(2 * 1.645) = 0.304."""
    assert adequacy(10.0, 11.0, u).fitness is fitness


def test_index_is_the_ratio_of_tolerance_to_expanded_uncertainty():
    """JCGM 106 7.6.3: C_m = (T_U - T_L)/(4 u), which is half the tolerance over U = 2 u."""
    found = adequacy(9.8, 10.2, 0.05)
    assert found.index == pytest.approx(2.0)
    assert found.index == pytest.approx(0.2 / (2 * 0.05))


@given(st.floats(0.01, 10), st.floats(0.001, 10), st.floats(0.0, 3.0))
def test_the_largest_uncertainty_still_passes_in_the_middle(half, u, factor):
    found = adequacy(-half, half, u, guard_factor=factor)
    middle = judge(0.0, u, -half, half, factor)
    if abs(u - found.u_largest) > 1e-9:
        assert (found.fitness is not Fitness.UNFIT) == (middle.decision is Decision.PASS)
    zone = max(middle.acceptance_upper - middle.acceptance_lower, 0.0)
    assert found.acceptance_share == pytest.approx(zone / (2 * half), abs=1e-9)


@given(st.floats(0.01, 10), st.floats(0.001, 10), st.floats(0.5, 10))
def test_what_is_called_wanted_is_good(half, u, index):
    found = adequacy(-half, half, u, wanted_index=index)
    wanted = adequacy(-half, half, found.u_wanted * (1 - 1e-9), wanted_index=index)
    assert wanted.fitness is Fitness.GOOD
    wide = found.least_tolerance * (1 + 1e-9)
    assert adequacy(0.0, wide, u, wanted_index=index).fitness is Fitness.GOOD


def test_in_words():
    assert adequacy(0.0, 1.0, 0.05).in_words("g") == (
        "Good enough: u = 0.05 g, capability index 5, required 4."
    )
    usable = adequacy(0.0, 0.001, 0.0001).in_words("g", 1000.0)
    assert usable == (
        "Usable: u = 0.1 g, capability index 2.5; readings pass in 67% of the tolerance. "
        "Good would be u = 0.0625 g."
    )
    unfit = adequacy(0.0, 1.0, 0.5).in_words()
    assert unfit == (
        "Not good enough: u = 0.5, capability index 0.5; no reading can pass. The largest u that "
        "can is 0.304, good would be 0.0625."
    )


def test_a_perfect_instrument():
    found = adequacy(0.0, 1.0, 0.0)
    assert found.fitness is Fitness.GOOD
    assert found.index == math.inf


# --- what a part may be --------------------------------------------------------------------------


def scale(step):
    return Budget((resolution("display", step, sensitivity=2.0), normal("rest", 0.03)))


def test_the_display_that_would_do():
    u = largest_part(scale(0.1), "display", 0.05)
    assert u == pytest.approx(0.04 / 2.0)
    assert scale(u * math.sqrt(12.0)).combined() == pytest.approx(0.05)


def test_no_display_helps_when_the_rest_is_too_much():
    assert largest_part(scale(0.1), "display", 0.02) is None


@given(st.floats(-0.9, 0.9), st.floats(0.1, 5), st.sampled_from([-2.0, 0.5, 3.0]))
def test_correlated_parts(r, u_wanted, sensitivity):
    parts = (normal("a", 1.0, sensitivity=sensitivity), normal("b", 0.5))
    correlations = {("b", "a"): r}
    u = largest_part(Budget(parts, correlations), "a", u_wanted)
    if u is not None:
        reached = Budget((replace(parts[0], u=u), parts[1]), correlations)
        assert reached.combined() == pytest.approx(u_wanted, rel=1e-6)
    else:
        least = Budget((replace(parts[0], u=0.0), parts[1]), correlations).combined()
        assert least >= u_wanted * (1 - 1e-12)


@pytest.mark.parametrize(
    "make",
    [
        lambda: adequacy(1.0, 1.0, 0.1),
        lambda: adequacy(0.0, math.inf, 0.1),
        lambda: adequacy(0.0, 1.0, -0.1),
        lambda: adequacy(0.0, 1.0, math.nan),
        lambda: adequacy(0.0, 1.0, 0.1, guard_factor=-1.0),
        lambda: adequacy(0.0, 1.0, 0.1, wanted_index=0.0),
        lambda: largest_part(scale(0.1), "nothing", 0.1),
        lambda: largest_part(scale(0.1), "display", math.nan),
        lambda: largest_part(Budget((normal("x", 1.0, sensitivity=0.0),)), "x", 1.0),
    ],
)
def test_what_cannot_be_compared_is_refused(make):
    with pytest.raises(MetrologyError):
        make()
