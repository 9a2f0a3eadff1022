"""Budgets against the GUM's own examples: H.1 gauge block, H.2 correlated inputs, shapes."""

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.uncertainty import (
    Budget,
    Contribution,
    Distribution,
    arcsine,
    normal,
    rectangular,
    repeated,
    resolution,
    trapezoid,
    triangular,
)
from tests.reference_rows import assert_agrees, row, rows

FILE = "uncertainty.csv"
LENGTH_NM = 50_000_623.0
ALPHA, D_ALPHA, D_THETA, THETA_K = 11.5e-6, 1e-6, 0.05, 0.1


def gauge_block():
    """JCGM 100 H.1: l = l_s + d - l_s (d_alpha theta + alpha_s d_theta), in nanometres."""
    return Budget(
        (
            normal("l_s", 25.0, dof=18),
            normal("d readings", 5.8, dof=24),
            normal("d random", 3.9, dof=5),
            normal("d systematic", 6.7, dof=8),
            rectangular("d_alpha", D_ALPHA, sensitivity=LENGTH_NM * THETA_K, dof=50),
            rectangular("d_theta", D_THETA, sensitivity=-LENGTH_NM * ALPHA, dof=2),
            rectangular("alpha_s", 2e-6, sensitivity=0.0),
        )
    )


def h1(quantity):
    return row(FILE, example="GUM H.1", quantity=quantity)


def test_gum_h1_combined_uncertainty():
    assert_agrees(h1("combined_standard_uncertainty_unrounded"), gauge_block().combined())


def test_gum_h1_degrees_of_freedom():
    dof = gauge_block().effective_dof()
    assert_agrees(h1("effective_degrees_of_freedom_unrounded"), dof)
    assert math.floor(dof) == h1("effective_degrees_of_freedom").number()


def test_gum_h1_expanded_uncertainty():
    expanded = gauge_block().expanded(0.99).value
    assert_agrees(h1("expanded_uncertainty_99"), expanded)
    published = h1("expanded_uncertainty_99_published")
    assert expanded == pytest.approx(published.number(), abs=1.1), "printed from a truncated dof"


@pytest.mark.parametrize(
    ("quantity", "name"),
    [
        ("uncertainty_component:l_s", "l_s"),
        ("uncertainty_component:d_systematic", "d systematic"),
        ("uncertainty_component:d_readings", "d readings"),
        ("uncertainty_component:d_random", "d random"),
        ("uncertainty_component:alpha_s", "alpha_s"),
    ],
)
def test_gum_h1_components(quantity, name):
    table = {line.name: line for line in gauge_block().rows()}
    assert_agrees(h1(quantity), table[name].u_result)


def test_gum_h1_comparator():
    part = Budget(gauge_block().contributions[1:4])
    assert_agrees(h1("intermediate_u_of_d"), part.combined())
    # 25.6 is printed from u(d) = 9.7 nm as rounded there; unrounded it is 25.4.
    published = h1("intermediate_dof_of_d").number()
    assert part.effective_dof() * (9.7 / part.combined()) ** 4 == pytest.approx(published, abs=0.05)


# --- H.2: inputs measured together ---------------------------------------------------------------

V = (5.007, 4.994, 5.005, 4.990, 4.999)
I_MA = (19.663, 19.639, 19.640, 19.685, 19.678)
PHI = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)


def impedance(sensitivities):
    """Contributions of the means of V, I and phi, with the correlations of the readings."""
    series = {"V": V, "I": [i * 1e-3 for i in I_MA], "phi": PHI}
    parts = tuple(
        repeated(name, statistics.stdev(values), len(values), sensitivity=sensitivities[name])
        for name, values in series.items()
    )
    pairs = [("V", "I"), ("V", "phi"), ("I", "phi")]
    correlations = {
        pair: statistics.correlation(series[pair[0]], series[pair[1]]) for pair in pairs
    }
    return Budget(parts, correlations)


def test_gum_h2_correlated_inputs():
    v, i, phi = (statistics.fmean(s) for s in (V, [x * 1e-3 for x in I_MA], PHI))
    z = impedance({"V": 1 / i, "I": -v / i**2, "phi": 0.0})
    x = impedance(
        {
            "V": math.sin(phi) / i,
            "I": -v * math.sin(phi) / i**2,
            "phi": v * math.cos(phi) / i,
        }
    )
    assert_agrees(row(FILE, example="GUM H.2", quantity="estimate_Z"), v / i)
    assert_agrees(row(FILE, example="GUM H.2", quantity="estimate_X"), v / i * math.sin(phi))
    assert_agrees(row(FILE, example="GUM H.2", quantity="estimate_R"), v / i * math.cos(phi))
    assert_agrees(
        row(FILE, example="GUM H.2", quantity="correlation_I_phi"), z.correlations["I", "phi"]
    )
    assert_agrees(row(FILE, example="GUM H.2", quantity="u_Z"), z.combined())
    assert_agrees(row(FILE, example="GUM H.2", quantity="u_X"), x.combined())
    assert_agrees(
        row(FILE, example="GUM H.2", quantity="correlation_V_I"), z.correlations["V", "I"]
    )


def test_correlated_parts_lend_no_degrees_of_freedom():
    z = impedance({"V": 50.9, "I": -12947.0, "phi": 0.0})
    assert z.effective_dof() == 4.0


# --- shapes --------------------------------------------------------------------------------------

SHAPES = {
    "rectangular a": lambda: rectangular("x", 1.0),
    "triangular a": lambda: triangular("x", 1.0),
    "arcsine a": lambda: arcsine("x", 1.0),
    "resolution step d (rectangular, full width)": lambda: resolution("x", 1.0),
    "normal certificate U k=2": lambda: normal("x", 1.0, 2.0),
    "trapezoid beta=0.5 a": lambda: trapezoid("x", 1.0, 0.5),
}


@pytest.mark.parametrize(
    "reference", rows(FILE, quantity="type_B_standard_uncertainty_per_unit"), ids=str
)
def test_type_b_shapes(reference):
    assert_agrees(reference, SHAPES[reference["inputs"]]().u)


def test_an_arcsine_is_wider_than_a_rectangle():
    """GUM 4.3: a/sqrt(2)."""
    assert arcsine("x", 1.0).u == pytest.approx(math.sqrt(0.5), rel=1e-15)
    assert trapezoid("x", 1.0, 1.0).u == pytest.approx(rectangular("x", 1.0).u)
    assert trapezoid("x", 1.0, 0.0).u == pytest.approx(triangular("x", 1.0).u)


def test_four_normal_distributions():
    """JCGM 101 9.2.2: u = 2, and 3.92 for 95 %."""
    budget = Budget(tuple(normal(f"x{n}", 1.0) for n in range(4)))
    reference = row(FILE, example="JCGM 101 9.2.2", quantity="coverage95_half_width")
    assert_agrees(reference, budget.expanded(0.95).value)
    assert_agrees(row(FILE, quantity="u_of_sum"), budget.combined())


# --- properties ----------------------------------------------------------------------------------

parts = st.lists(
    st.tuples(
        st.floats(0.0, 1e3).map(lambda u: round(u, 6)),
        st.floats(-10, 10).map(lambda c: round(c, 6)),
        st.floats(1.0, 1e3),
    ),
    min_size=1,
    max_size=6,
)


def of(given_parts):
    return Budget(
        tuple(Contribution(f"x{n}", u, c, dof) for n, (u, c, dof) in enumerate(given_parts))
    )


@given(parts)
def test_combined_lies_between_the_largest_and_the_sum(given_parts):
    budget = of(given_parts)
    shares = [abs(u * c) for u, c, _ in given_parts]
    assert max(shares) * (1 - 1e-12) <= budget.combined() <= sum(shares) * (1 + 1e-12)


@given(parts)
def test_degrees_of_freedom_lie_between_the_least_and_the_sum(given_parts):
    dof = of(given_parts).effective_dof()
    used = [d for u, c, d in given_parts if u * c != 0.0]
    if used and dof < math.inf:
        assert min(used) * (1 - 1e-9) <= dof <= sum(used) * (1 + 1e-9)


@given(parts)
def test_shares_add_to_one(given_parts):
    budget = of(given_parts)
    total = sum(line.share for line in budget.rows())
    squares = sum((u * c) ** 2 for u, c, _ in given_parts)
    assert total == pytest.approx(1.0 if squares > 0.0 else 0.0, abs=1e-9)


@given(st.floats(-1, 1), st.floats(0.1, 10), st.floats(0.1, 10))
def test_correlation_of_two(r, a, b):
    budget = Budget((normal("a", a), normal("b", b)), {("a", "b"): r})
    expected = math.sqrt(max(a * a + b * b + 2 * r * a * b, 0.0))
    assert budget.combined() == pytest.approx(expected, abs=1e-7)


@given(parts, st.floats(0.5, 0.999), st.floats(0.5, 0.999))
def test_more_coverage_is_wider(given_parts, one, other):
    budget = of(given_parts)
    low, high = sorted((one, other))
    assert budget.expanded(low).value <= budget.expanded(high).value * (1 + 1e-9)


def test_the_table_keeps_names_and_order():
    table = gauge_block().rows()
    assert [line.name for line in table][:2] == ["l_s", "d readings"]
    assert table[4].distribution == Distribution.RECTANGULAR.value
    assert table[4].half_width == D_ALPHA
    assert table[0].half_width is None


def test_a_vanishing_uncertainty_keeps_its_degrees_of_freedom():
    tiny = Budget((normal("a", 1e-90, dof=7),))
    assert tiny.effective_dof() == pytest.approx(7.0)
    assert Budget((normal("a", 0.0, dof=7),)).effective_dof() == math.inf


# --- refusals ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "make",
    [
        lambda: normal("x", -1.0),
        lambda: normal("x", math.nan),
        lambda: normal("x", math.inf),
        lambda: normal("x", 1.0, sensitivity=math.nan),
        lambda: normal("x", 1.0, dof=0.0),
        lambda: repeated("x", 1.0, 1),
        lambda: repeated("x", 1.0, 0, dof=5),
        lambda: Budget(()),
        lambda: Budget((normal("x", 1.0), normal("x", 1.0))),
        lambda: Budget((normal("x", 1.0),), {("x", "x"): 0.5}),
        lambda: Budget((normal("x", 1.0), normal("y", 1.0)), {("x", "z"): 0.5}),
        lambda: Budget((normal("x", 1.0), normal("y", 1.0)), {("x", "y"): 1.5}),
        lambda: Budget(
            tuple(normal(n, 1.0) for n in "xyz"),
            {("x", "y"): -1.0, ("y", "z"): -1.0, ("x", "z"): -1.0},
        ),
    ],
)
def test_a_budget_that_makes_no_sense_is_refused(make):
    with pytest.raises(MetrologyError) as refused:
        make()
    assert refused.value.advice


def test_repeated_readings():
    """GUM 4.2: s/sqrt(n) with n - 1 degrees of freedom."""
    part = repeated("x", 0.6, 9)
    assert (part.u, part.dof) == (pytest.approx(0.2), 8.0)
    assert repeated("x", 0.6, 1, dof=20).dof == 20
