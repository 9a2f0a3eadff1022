"""Consumer's and producer's risk against JCGM 106's example and published tables."""

import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.metrology.conformity import judge
from benchstation.metrology.distributions import normal_quantile
from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.risk import (
    Process,
    global_risk,
    guard_band_for,
    normal_process,
    specific_risk,
)
from tests.reference_rows import assert_agrees, row, rows

FILE = "uncertainty.csv"
BALL = "JCGM 106 9.5.4"


def balls():
    """JCGM 106 9.5.4: roundness of balls in micrometres, gamma with shape 4 and scale 1/4."""
    return Process(lambda x: 4.0**4 / math.gamma(4) * x**3 * np.exp(-4.0 * x), 0.0, 16.0)


def test_balls_accepted_simply():
    expected = row(FILE, example=BALL, quantity="global_consumer_risk_simple_acceptance")
    assert_agrees(expected, global_risk(balls(), 0.25, None, 2.0).consumer)


def test_guard_band_for_the_balls():
    expected = row(FILE, example=BALL, quantity="guard_band_for_0.1_percent_risk")
    band = guard_band_for(balls(), 0.25, None, 2.0, 0.001)
    assert_agrees(expected, band)
    assert global_risk(balls(), 0.25, None, 2.0, band).consumer == pytest.approx(0.001, abs=1e-8)


def in_tolerance(reference):
    """Limits +-1 that hold this share of the process; measured with a quarter of its spread."""
    share = float(re.search(r"probability ([\d.]+)", reference["inputs"])[1])
    std = 1.0 / normal_quantile(0.5 * (1.0 + share))
    risk = global_risk(normal_process(0.0, std), std / 4.0, -1.0, 1.0)
    assert risk.conforming == pytest.approx(share, abs=1e-9)
    return risk


@pytest.mark.parametrize("reference", rows(FILE, quantity="false_accept_percent"), ids=str)
def test_false_acceptance(reference):
    assert_agrees(reference, 100.0 * in_tolerance(reference).consumer)


@pytest.mark.parametrize(
    "reference", rows(FILE, quantity="conditional_false_accept_percent"), ids=str
)
def test_false_acceptance_among_the_accepted(reference):
    assert_agrees(reference, 100.0 * in_tolerance(reference).consumer_of_accepted)


def test_published_false_acceptance_and_rejection():
    wide = global_risk(normal_process(0.0, 4.0), 1.0, -8.0, 8.0)
    inputs = "process N(0,4) test N(0,1) limits +-8"
    assert_agrees(row(FILE, quantity="false_accept", inputs=inputs), wide.consumer)
    assert_agrees(row(FILE, quantity="false_reject", inputs=inputs), wide.producer)
    # In this source the test ratio is that of the two spreads, process over measurement.
    fine = global_risk(normal_process(0.0, 1.0), 1.0 / 4.0, -2.5, 2.5)
    assert_agrees(row(FILE, quantity="false_accept", inputs="SL=2.5 sigma TUR=4"), fine.consumer)
    guarded = global_risk(normal_process(0.0, 1.0), 1.0 / 2.0, -2.0, 2.0, guard_band=0.09 * 2.0)
    inputs = "SL=2 sigma TUR=2 guard band factor 0.91"
    assert_agrees(row(FILE, quantity="false_accept", inputs=inputs), guarded.consumer)


def test_specific_risk():
    passed, failed, open_ = (judge(y, 0.05, 9.8, 10.2) for y in (10.0, 9.7, 9.82))
    assert specific_risk(passed) == pytest.approx(1.0 - 0.9999366575, abs=1e-9)
    assert specific_risk(failed) == pytest.approx(0.02275013195, abs=1e-9)
    assert specific_risk(open_) == pytest.approx(1.0 - open_.probability)


def test_a_pass_at_the_acceptance_limit_risks_five_percent():
    assert specific_risk(judge(0.0, 1.0, -normal_quantile(0.95), None)) == pytest.approx(0.05)


@settings(max_examples=40)
@given(st.floats(-1, 1), st.floats(0.05, 2), st.floats(0.0, 1.0), st.floats(0.0, 0.9))
def test_shares_add_up(mean, std, u, guard):
    risk = global_risk(normal_process(mean, std), u, -1.0, 1.0, guard)
    assert risk.accepted == pytest.approx(risk.conforming - risk.producer + risk.consumer, abs=1e-9)
    inside = 0.5 * (
        math.erf((1 - mean) / std / math.sqrt(2)) + math.erf((1 + mean) / std / math.sqrt(2))
    )
    assert risk.conforming == pytest.approx(inside, abs=1e-9)
    # What is measured is normal around the mean with both spreads: accepted in closed form.
    both = math.hypot(std, u) * math.sqrt(2)
    shown = 0.5 * (math.erf((1 - guard - mean) / both) + math.erf((1 - guard + mean) / both))
    assert risk.accepted == pytest.approx(shown, abs=1e-8)


@settings(max_examples=25)
@given(st.floats(0.01, 1.0), st.floats(0.0, 0.5), st.floats(0.01, 0.4))
def test_a_guard_band_moves_risk_from_consumer_to_producer(u, guard, more):
    process = normal_process(0.2, 0.6)
    narrow = global_risk(process, u, -1.0, 1.0, guard + more)
    wide = global_risk(process, u, -1.0, 1.0, guard)
    assert narrow.consumer <= wide.consumer + 1e-12
    assert narrow.producer >= wide.producer - 1e-12


def test_without_uncertainty_nobody_errs():
    risk = global_risk(normal_process(0.0, 1.0), 0.0, -1.0, 1.0)
    assert (risk.consumer, risk.producer) == (pytest.approx(0.0, abs=1e-12),) * 2


def test_nothing_accepted():
    risk = global_risk(normal_process(0.0, 1.0), 0.5, -1.0, 1.0, 1.5)
    assert risk.accepted == 0.0
    assert math.isnan(risk.consumer_of_accepted)


def test_a_good_process_needs_no_guard_band():
    assert guard_band_for(normal_process(0.0, 0.1), 0.05, -1.0, 1.0, 0.001) == 0.0


@pytest.mark.parametrize(
    "make",
    [
        lambda: normal_process(0.0, 0.0),
        lambda: normal_process(math.nan, 1.0),
        lambda: global_risk(normal_process(0, 1), -0.1, 0.0, 1.0),
        lambda: global_risk(normal_process(0, 1), 0.1, 1.0, 1.0),
        lambda: global_risk(normal_process(0, 1), 0.1, 0.0, math.nan),
        lambda: global_risk(normal_process(0, 1), 0.1, 0.0, 1.0, math.inf),
        lambda: guard_band_for(normal_process(0, 1), 0.1, -1.0, 1.0, 0.0),
        lambda: guard_band_for(normal_process(0, 1), 0.1, -1.0, 1.0, math.nan),
    ],
)
def test_what_cannot_be_told_is_refused(make):
    with pytest.raises(MetrologyError) as refused:
        make()
    assert refused.value.advice
