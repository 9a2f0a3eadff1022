"""How sure the mean of a window is, on noise whose correlation is known."""

import math

import numpy as np
import pytest

from benchstation.metrology.window_scatter import WindowScatter


def noise(chance, count, r):
    """Return noise of standard deviation 1 whose neighbours correlate by r."""
    values = [chance.normal()]
    for _ in range(count - 1):
        values.append(r * values[-1] + math.sqrt(1 - r * r) * chance.normal())
    return values


def pooled(r, count, windows, runs, filtered=0.0):
    """Return the root mean square of the stated u, and the means' real scatter."""
    stated, means = [], []
    for seed in range(runs):
        chance, pool = np.random.default_rng(seed), WindowScatter()
        for _ in range(windows):
            values = noise(chance, count, r)
            pool.add(values)
        means.append(np.mean(values))
        stated.append(pool.of_mean(count, filtered).u)
    return math.sqrt(np.mean(np.square(stated))), float(np.std(means))


@pytest.mark.parametrize(("r", "count"), [(0.0, 8), (0.0, 15), (0.5, 15), (0.6, 30)])
def test_the_mean_scatters_as_stated(r, count):
    stated, real = pooled(r, count, windows=4, runs=400)
    assert stated == pytest.approx(real, rel=0.15)


def test_a_slow_filter_that_is_known_is_taken_into_account():
    r = math.exp(-0.1)
    stated, real = pooled(r, 15, windows=4, runs=400, filtered=r)
    assert 0.9 * real < stated < 1.6 * real
    blind, _ = pooled(r, 15, windows=4, runs=400)
    assert blind < stated


def test_a_filter_that_leaves_no_trace_costs_little():
    """Noise that comes after the filter is independent."""
    stated, real = pooled(0.0, 15, windows=4, runs=400, filtered=0.9)
    assert stated < 1.3 * real


def test_independent_readings_have_their_degrees_of_freedom():
    pool, chance = WindowScatter(), np.random.default_rng(1)
    for _ in range(4):
        pool.add(list(chance.normal(size=200)))
    assert pool.of_mean(200).dof == pytest.approx(4 * 199, rel=0.2)


def test_nothing_is_known_before_a_window():
    pool = WindowScatter()
    pool.add([1.0, 2.0])
    assert pool.of_mean(8) is None


def test_digits_that_stand_still_scatter_by_nothing():
    pool = WindowScatter()
    pool.add([0.2] * 10)
    assert pool.of_mean(10).u == 0.0
