"""Pours that are stopped at the forecast land nearer as the lag is learned."""

import math

import numpy as np
import pytest

from benchstation.domain.pour_delay import (
    FLOW_OVER_S,
    LONGEST_S,
    USUAL_S,
    bounded,
    response_s,
    shown_lag,
)
from benchstation.domain.weigh_in import watch_pour

GOAL, JUG_S, HAND_S = 0.225, 0.25, 0.2


def poured(filter_s, used_s, flow=0.006, seed=0, noise=2e-5, rate=10.0):
    """Return a pour that a hand stops as it sees the forecast at the goal: times and display."""
    chance, step = np.random.default_rng(seed), 1.0 / (10 * rate)
    oil = shown = running = 0.0
    stop_at = math.inf
    at, values = [], []
    for n in range(int(120 / step)):
        now = n * step
        running += ((flow if now < stop_at else 0.0) - running) * (1 - math.exp(-step / JUG_S))
        oil += running * step
        shown += (oil - shown) * (1 - math.exp(-step / filter_s))
        if n % 10 == 0:
            at.append(now)
            values.append(shown + chance.normal(0, noise))
            recent = np.array(at) >= now - FLOW_OVER_S
            pour = watch_pour(
                np.array(at)[recent], np.array(values)[recent], GOAL, response_s=used_s
            )
            if stop_at == math.inf and pour.landing_kg >= GOAL:
                stop_at = now + HAND_S
            if now > stop_at + 4 + 8 * filter_s:
                break
    return np.array(at), np.array(values)


@pytest.mark.parametrize("filter_s", [0.2, 0.5, 1.0, 1.5])
def test_the_lag_of_scale_and_hand_is_learned_from_pours(filter_s):
    """Behind the first-order lags and the hand's reaction the display is their sum late."""
    pours, off = [], []
    for n in range(4):
        at, moved = poured(filter_s, response_s(None, pours), seed=n)
        off.append(moved[-1] - GOAL)
        pours.append(shown_lag(at, moved, GOAL, response_s(None, pours)))
    # The slope over a window is that of its middle: at a steady flow it makes no difference.
    assert response_s(None, pours) == pytest.approx(filter_s + JUG_S + HAND_S, abs=0.15)
    assert abs(off[-1]) < 0.001
    assert abs(off[-1]) < abs(off[0]) or abs(off[0]) < 0.001


@pytest.mark.parametrize("filter_s", [0.2, 1.0])
def test_the_scales_own_lag_is_known_before_the_first_pour(filter_s):
    _, moved = poured(filter_s, response_s(filter_s, ()))
    assert abs(moved[-1] - GOAL) < 0.0017, "within the tolerance of 2 mL"


def test_nothing_known_is_the_usual():
    assert response_s(None, ()) == USUAL_S
    assert response_s(60.0, ()) == LONGEST_S
    assert bounded(-1.0) > 0


def test_one_odd_pour_moves_nothing():
    assert response_s(None, (1.0, 1.1, 2.9, 1.0, 1.05)) == pytest.approx(1.05)


@pytest.mark.parametrize("case", ["trickled in", "poured on", "stopped short", "too few"])
def test_a_pour_that_was_not_stopped_at_the_forecast_tells_nothing(case):
    at = np.arange(0.0, 60.0, 0.1)
    slow = np.minimum(0.0005 * at, 1.0)
    moved = {
        "trickled in": GOAL - 0.02 + slow,
        "poured on": np.minimum(0.006 * at, GOAL + 0.1),
        "stopped short": np.minimum(0.006 * at, GOAL - 0.05),
        "too few": np.array([0.0, GOAL]),
    }[case]
    assert shown_lag(at[: len(moved)], moved, GOAL, 0.5) is None
