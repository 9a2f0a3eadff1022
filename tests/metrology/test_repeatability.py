"""Scatter within a day and between days against GUM H.5."""

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.repeatability import day_to_day, pooled, scatter
from tests.reference_rows import assert_agrees, row

FILE = "uncertainty.csv"


def h5(quantity):
    return row(FILE, example="GUM H.5", quantity=quantity)


@pytest.fixture
def zener():
    """JCGM 100 H.5: a voltage standard measured on ten days, five readings each."""
    text = h5("grand_mean")["inputs"]
    means = [float(v) for v in re.search(r"means (.*?) V", text)[1].split()]
    stds = [float(v) * 1e-6 for v in re.search(r"uV (.*?);", text)[1].split()]
    return day_to_day(means, stds, 5)


def test_gum_h5(zener):
    assert_agrees(h5("grand_mean"), zener.mean)
    assert_agrees(h5("between_day_s"), zener.means_std)
    assert_agrees(h5("within_day_s"), zener.within_std)


def test_gum_h5_conclusions(zener):
    """H.5.2.5, from memory: F = 2.25, s_B = 43 uV, u = 18 uV."""
    assert zener.ratio == pytest.approx(2.25, abs=0.05)
    assert zener.between_std == pytest.approx(43e-6, abs=1e-6)
    assert zener.u_mean == pytest.approx(18e-6, abs=0.5e-6)


@given(st.lists(st.lists(st.floats(-10, 10), min_size=2, max_size=6), min_size=1, max_size=6))
def test_pooling_is_one_sum_of_squares(groups):
    stds = [float(np.std(g, ddof=1)) for g in groups]
    found = pooled(stds, [len(g) for g in groups])
    squares = sum(float(np.sum((np.array(g) - np.mean(g)) ** 2)) for g in groups)
    assert found.dof == sum(len(g) - 1 for g in groups)
    assert found.std == pytest.approx(math.sqrt(squares / found.dof), abs=1e-9)


def test_days_that_do_not_differ():
    assert day_to_day([1.0, 1.0], [0.1, 0.1], 4).between_std == 0.0
    assert day_to_day([1.0, 1.1], [0.0, 0.0], 4).ratio == math.inf


@pytest.mark.parametrize(
    "make",
    [
        lambda: pooled([0.1], [1]),
        lambda: pooled([], []),
        lambda: pooled([math.nan], [5]),
        lambda: day_to_day([1.0], [0.1], 5),
        lambda: day_to_day([1.0, 2.0], [0.1], 5),
        lambda: day_to_day([1.0, 2.0], [0.1, 0.1], 1),
        lambda: day_to_day([1.0, math.nan], [0.1, 0.1], 5),
    ],
)
def test_what_was_not_repeated_is_refused(make):
    with pytest.raises(MetrologyError):
        make()


@given(st.lists(st.floats(-10, 10), min_size=2, max_size=20))
def test_scatter_of_one_thing_is_its_sample_deviation(values):
    found = scatter(values)
    assert found.std == pytest.approx(float(np.std(values, ddof=1)), abs=1e-12)
    assert found.dof == len(values) - 1


@pytest.mark.parametrize("values", [[], [1.0], [1.0, math.nan]])
def test_scatter_needs_two_figures(values):
    with pytest.raises(MetrologyError):
        scatter(values)
