"""Readings as means of neighbours: few, exact while there are few, and true to the readings."""

import math

import numpy as np
import pytest

from benchstation.bench.capture.quiet_readings import MOST, QuietReadings
from benchstation.physics.settling import Settling, fit_settling

FINAL, FALL, TAU, BAND = 15e5, 0.4e5, 30.0, 3000.0


def cooling(seconds: float, rate: float, noise: float, seed: int = 1):
    t = np.arange(0.0, seconds, 1.0 / rate)
    scatter = np.random.default_rng(seed).normal(0.0, noise, len(t))
    return t, FINAL + FALL * np.exp(-t / TAU) + scatter


def taken(t, p) -> QuietReadings:
    quiet = QuietReadings()
    for at, value in zip(t.tolist(), p.tolist(), strict=True):
        quiet.take(at, value)
    return quiet


def fitted(quiet: QuietReadings, now: float, start: int = 0) -> Settling:
    at, means, noise = quiet.means(start)
    return fit_settling(at, means, BAND, each=quiet.each, noise_pa=noise, now_s=now)


def test_few_readings_are_kept_as_they_are():
    t, p = cooling(30.0, 10.0, 50.0)
    at, means, noise = taken(t, p).means()
    assert np.array_equal(at, t)
    assert np.array_equal(means, p)
    assert noise == pytest.approx(math.sqrt(np.mean(np.diff(p) ** 2) / 2.0), rel=1e-9)


@pytest.mark.parametrize("count", [MOST, MOST + 1, 3 * MOST + 7, 20_000])
def test_many_readings_become_a_bounded_number_of_means(count):
    t, p = cooling(count / 100, 100.0, 50.0)
    quiet = taken(t[:count], p[:count])
    at, means, noise = quiet.means()
    assert MOST // 2 <= len(at) <= MOST
    assert quiet.count == count
    whole = len(quiet) * quiet.each
    blocks = p[:whole].reshape(-1, quiet.each).mean(axis=1)
    assert np.allclose(means[: len(quiet)], blocks, rtol=0.0, atol=1e-6)
    assert noise == pytest.approx(50.0, rel=0.05)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("seconds", [80.0, 130.0, 200.0])
def test_the_fit_of_means_is_that_of_all_readings(seconds, seed):
    t, p = cooling(seconds, 100.0, 300.0, seed)
    now, quiet = float(t[-1]), taken(t, p)
    few, every = fitted(quiet, now), fit_settling(t, p, BAND)
    assert (few.certain, every.certain) == (True, True)
    assert few.final_pa == pytest.approx(every.final_pa, abs=0.5 * every.u_final_pa)
    assert few.u_final_pa == pytest.approx(every.u_final_pa, rel=0.15)
    assert few.rate_pa_s == pytest.approx(every.rate_pa_s, rel=0.1, abs=0.2)
    assert abs(few.final_pa - FINAL) < 4.0 * few.u_final_pa


def test_a_bend_is_no_curve_in_means_either():
    """Half a bar vented over 8 s in the middle: no single approach to rest."""
    t, p = cooling(200.0, 100.0, 100.0)
    p -= 0.5e5 * np.clip((t - 90.0) / 8.0, 0.0, 1.0)
    quiet = taken(t, p)
    assert not fit_settling(t, p, BAND).certain
    assert not fitted(quiet, float(t[-1])).certain
    later = fitted(quiet, float(t[-1]), int(0.5 * len(quiet)))
    assert later.certain
    assert later.final_pa == pytest.approx(FINAL - 0.5e5, abs=5 * later.u_final_pa)


def test_what_is_dropped_is_gone():
    t, p = cooling(100.0, 100.0, 50.0)
    quiet = taken(t, p)
    before, half = quiet.count, len(quiet) // 2
    at, _, _ = quiet.means(half)
    quiet.drop(half)
    assert quiet.count == before - half * quiet.each
    assert np.array_equal(quiet.means()[0], at)


def test_what_is_no_number_is_left_out():
    quiet = taken(np.arange(20.0), np.where(np.arange(20) % 5 == 0, math.nan, 1e5))
    assert quiet.count == 16
    assert np.isfinite(quiet.means()[1]).all()
