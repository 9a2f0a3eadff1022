"""Individuals, EWMA and CUSUM charts against the e-Handbook's examples."""

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.control_chart import cusum, ewma, individuals
from benchstation.metrology.errors import MetrologyError
from tests.reference_rows import assert_agrees, row, rows

FILE = "spc.csv"
FLOW = "NIST 6.3.2.2 individuals chart"


def series(reference):
    return [float(v) for v in reference["inputs"].split()]


def flow(quantity):
    return row(FILE, example=FLOW, quantity=quantity)


@pytest.fixture
def flow_chart():
    return individuals(series(flow("mean")))


def test_individuals(flow_chart):
    assert_agrees(flow("mean"), flow_chart.mean)
    assert_agrees(flow("UCL_individuals"), flow_chart.upper)
    assert_agrees(flow("LCL_individuals"), flow_chart.lower)
    assert_agrees(flow("UCL_with_2.66"), flow_chart.mean + 2.66 * flow_chart.mean_range)


def test_moving_ranges(flow_chart):
    published = [float(v) for v in flow("moving_ranges")["value"].split()]
    assert flow_chart.moving_ranges == pytest.approx(published, abs=1e-9)
    assert flow_chart.range_lower == 0.0
    # As tables print it, like the 1.128 of the limits: 3.266532 by itself.
    assert flow_chart.range_upper == pytest.approx(3.267 * flow_chart.mean_range, rel=1e-12)
    assert flow_chart.upper == flow_chart.mean + 3.0 * (flow_chart.mean_range / 1.128)


def test_nothing_is_out_of_limits(flow_chart):
    assert flow("out_of_limit_points")["value"] == "none"
    assert flow_chart.beyond == ()
    assert flow_chart.ranges_beyond == ()


def test_limits_from_a_baseline():
    values = [10.0, 10.2, 9.9, 10.1, 10.0, 13.0]
    frozen = individuals(values, baseline=5)
    assert frozen.mean == pytest.approx(10.04)
    assert frozen.beyond == (5,)
    assert frozen.ranges_beyond == (4,)
    assert individuals(values).upper > frozen.upper


def test_ranges_of_three():
    chart = individuals([1.0, 2.0, 4.0, 3.0], span=3)
    assert chart.moving_ranges == (3.0, 2.0)
    assert chart.sigma == pytest.approx(2.5 / 1.693)


@given(st.lists(st.floats(-100, 100), min_size=3, max_size=30), st.floats(-50, 50))
def test_a_chart_moves_with_its_values(values, shift):
    here, there = individuals(values), individuals([v + shift for v in values])
    assert there.mean - here.mean == pytest.approx(shift, abs=1e-9)
    assert there.sigma == pytest.approx(here.sigma, abs=1e-9)
    assert here.lower <= here.mean <= here.upper


# --- EWMA ----------------------------------------------------------------------------------------


def smoothed():
    reference = row(FILE, quantity="EWMA_UCL")
    return ewma(series(reference), 50.0, 2.0539, weight=0.3)


def test_ewma_limits():
    assert_agrees(row(FILE, quantity="EWMA_UCL"), smoothed().upper)


@pytest.mark.parametrize("reference", rows(FILE, quantity="EWMA_value"), ids=str)
def test_ewma_values(reference):
    point = int(reference["note"].split()[1])
    assert_agrees(reference, smoothed().smoothed[point - 1])


def test_ewma_limits_widen_to_their_end():
    chart = smoothed()
    assert chart.upper_at[0] == pytest.approx(50 + 3 * 2.0539 * 0.3)
    assert list(chart.upper_at) == sorted(chart.upper_at)
    assert chart.upper_at[-1] == pytest.approx(chart.upper, abs=1e-5)
    assert chart.beyond == ()


def test_ewma_finds_a_lasting_shift_of_one_sigma():
    quiet = [0.0, 0.3, -0.3] * 5
    chart = ewma([*quiet, *[1.0 + v for v in quiet]], 0.0, 1.0, weight=0.1)
    assert individuals([*quiet, *[1.0 + v for v in quiet]], baseline=15).mean == 0.0
    assert chart.beyond
    assert chart.beyond[0] > 15


@given(st.lists(st.floats(-100, 100), min_size=3, max_size=30), st.floats(0, 10))
def test_ewma_of_weight_one_is_the_individuals(values, sigma):
    chart = ewma(values, 0.0, sigma, weight=1.0)
    assert chart.smoothed == pytest.approx(tuple(values), abs=1e-9)
    assert set(chart.upper_at) == {3.0 * sigma}


# --- CUSUM ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "reference", [*rows(FILE, quantity="CUSUM_high"), *rows(FILE, quantity="CUSUM_low")], ids=str
)
def test_cusum(reference):
    stated = re.search(r"target (\S+) h (\S+) k (\S+)", reference["example"])
    target, limit, slack = map(float, stated.groups())
    chart = cusum(series(reference), target, slack, limit)
    group = int(reference["note"].split()[1])
    sums = chart.high if reference["quantity"] == "CUSUM_high" else chart.low
    assert_agrees(reference, sums[group - 1])
    assert chart.beyond[0] == 13


# --- refusals ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "make",
    [
        lambda: individuals([1.0, 2.0]),
        lambda: individuals([]),
        lambda: individuals([1.0, math.nan, 2.0]),
        lambda: individuals([1.0, 2.0, 3.0], baseline=4),
        lambda: individuals([1.0, 2.0, 3.0], baseline=2),
        lambda: individuals([1.0, 2.0, 3.0], span=3),
        lambda: ewma([1.0], 0.0, 1.0, weight=0.0),
        lambda: ewma([1.0], 0.0, 1.0, weight=1.1),
        lambda: ewma([1.0], 0.0, -1.0),
        lambda: ewma([1.0], 0.0, 1.0, width=math.nan),
        lambda: cusum([1.0], 0.0, -1.0, 1.0),
        lambda: cusum([1.0], math.nan, 1.0, 1.0),
    ],
)
def test_what_is_no_chart_is_refused(make):
    with pytest.raises(MetrologyError):
        make()
