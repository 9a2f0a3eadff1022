"""When a reading counts: OIML R 76-1's stable equilibrium, and what is only frozen."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.stability import Stability, StabilityJudge

BAND, WINDOW, COUNT, GAP = 0.02, 1.0, 5, 0.5


@pytest.fixture
def judge():
    return StabilityJudge(WINDOW, BAND, COUNT, GAP)


def feed(judge, values, *, start=0.0, step=0.1, stable=True, raws=None, motion=False):
    view = None
    for count, value in enumerate(values):
        raw = raws[count] if raws else f"frame {count}"
        view = judge.feed(start + count * step, value, stable, raw, expect_motion=motion)
    return view


def test_steady_after_a_full_window(judge):
    states = [judge.feed(n * 0.1, 10.0, True, f"{n}").state for n in range(15)]
    assert states[:10] == [Stability.WAITING] * 10
    assert set(states[10:]) == {Stability.STEADY}


def test_statistics_of_the_window(judge):
    view = feed(judge, [10.0, 10.01] * 8)
    assert view.mean == pytest.approx(10.005, abs=0.0006)
    assert view.spread == pytest.approx(0.01)
    assert view.std == pytest.approx(0.0052, abs=0.0004)
    assert (view.n, view.age_s, view.raw) == (11, 0.0, "frame 15")


def test_a_spread_beyond_the_band_moves(judge):
    assert feed(judge, [10.0, 10.03] * 8).state is Stability.MOVING
    later = [judge.feed(1.6 + n * 0.1, 10.0, True, f"x{n}").state for n in range(12)]
    assert later[0] is Stability.MOVING
    assert later[-1] is Stability.STEADY


def test_the_device_knows_better(judge):
    feed(judge, [10.0] * 15)
    assert judge.feed(1.5, 10.0, False, "moving").state is Stability.MOVING
    states = [judge.feed(1.6 + n * 0.1, 10.0, True, f"{n}").state for n in range(12)]
    assert states[5] is Stability.MOVING
    assert states[-1] is Stability.STEADY


def test_a_device_without_a_flag(judge):
    assert feed(judge, [10.0] * 15, stable=None).state is Stability.STEADY


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_moves(judge, value):
    feed(judge, [10.0] * 15)
    assert judge.feed(1.5, value, True, "odd").state is Stability.MOVING


def test_a_slow_creep_moves(judge):
    """0.05 a second: each step is far below the band, the window is not."""
    assert feed(judge, [10.0 + 0.005 * n for n in range(30)]).state is Stability.MOVING


def test_too_few_readings_wait():
    judge = StabilityJudge(WINDOW, BAND, COUNT, 2.0)
    assert feed(judge, [10.0] * 3, step=0.6).state is Stability.WAITING


def test_silence_is_stale_and_then_waits_anew(judge):
    feed(judge, [10.0] * 15)
    assert judge.view(1.4 + GAP).state is Stability.STEADY
    view = judge.view(2.0)
    assert view.state is Stability.STALE
    assert view.age_s == pytest.approx(0.6)
    assert judge.feed(2.1, 10.0, True, "back").state is Stability.WAITING


def test_identical_frames_while_mass_should_move_are_frozen(judge):
    raws = ["the same"] * 20
    assert feed(judge, [10.0] * 20, raws=raws, motion=True).state is Stability.FROZEN


def test_identical_frames_at_rest_are_steady(judge):
    assert feed(judge, [10.0] * 20, raws=["the same"] * 20).state is Stability.STEADY


def test_frozen_is_judged_from_when_motion_was_expected(judge):
    """A pan that stood still for long is not frozen in the moment the pour begins."""
    feed(judge, [10.0] * 20, raws=["the same"] * 20)
    states = [
        judge.feed(2.0 + n * 0.1, 10.0, True, "the same", expect_motion=True).state
        for n in range(13)
    ]
    assert states[0] is Stability.STEADY
    assert states[-1] is Stability.FROZEN


def test_frames_unknown_are_never_frozen(judge):
    assert feed(judge, [10.0] * 20, raws=[""] * 20, motion=True).state is Stability.STEADY


def test_reset(judge):
    feed(judge, [10.0] * 15)
    judge.reset()
    empty = judge.view(2.0)
    assert (empty.state, empty.n) == (Stability.WAITING, 0)
    assert math.isnan(empty.mean)
    assert judge.feed(0.0, 10.0, True).state is Stability.WAITING


def test_time_that_goes_back_is_refused(judge):
    judge.feed(1.0, 10.0, True)
    with pytest.raises(ValueError, match="came after"):
        judge.feed(0.9, 10.0, True)


@pytest.mark.parametrize(
    "bad", [(0.0, BAND, 5, 1.0), (1.0, -0.1, 5, 1.0), (1.0, BAND, 1, 1.0), (1.0, BAND, 5, 0.0)]
)
def test_a_judge_that_could_never_judge_is_refused(bad):
    with pytest.raises(ValueError):
        StabilityJudge(*bad)


@given(st.lists(st.tuples(st.floats(0.01, 0.3), st.floats(9.9, 10.1)), min_size=1, max_size=60))
def test_steady_means_that_the_window_agreed(steps):
    judge, t, history = StabilityJudge(WINDOW, BAND, COUNT, GAP), 0.0, []
    for step, value in steps:
        t += step
        history.append((t, value))
        view = judge.feed(t, value, True, repr(t))
        if view.state is Stability.STEADY:
            window = [v for at, v in history if at >= t - WINDOW]
            assert max(window) - min(window) <= BAND
            assert history[0][0] <= t - WINDOW


def test_noise_of_a_third_of_the_band_is_steady(judge):
    noise = random.Random(1)
    states = [
        judge.feed(n * 0.1, noise.uniform(-0.3, 0.3) * BAND, True, f"{n}").state for n in range(200)
    ]
    assert set(states[10:]) == {Stability.STEADY}


# --- drift ---------------------------------------------------------------------------------------


def walk(judge, value_at, seconds, *, step=0.1):
    """States while the value follows a function of time."""
    return [
        judge.feed(n * step, value_at(n * step), True, f"{n}").state
        for n in range(round(seconds / step))
    ]


@pytest.mark.parametrize("slope", [1.5, -1.5, 3.0])
def test_a_slow_steady_drift_is_not_steady(judge, slope):
    """Each window agrees within the band; over five windows it moves by more than the band."""
    states = walk(judge, lambda t: 10.0 + slope * BAND / 5.0 * t, 20.0)
    assert Stability.MOVING not in states
    assert set(states[45:]) == {Stability.DRIFTING}


def test_a_slower_drift_than_the_limit_is_steady(judge):
    states = walk(judge, lambda t: 10.0 + 0.8 * BAND / 5.0 * t, 30.0)
    assert set(states[10:]) == {Stability.STEADY}
    view = judge.view(29.9)
    assert view.drift_per_s == pytest.approx(0.8 * BAND / 5.0)
    assert view.u_drift_per_s == pytest.approx(0.0, abs=1e-6)


def test_a_drift_in_steps_of_the_display(judge):
    """A display of a quarter of the band shows the drift as stairs."""
    digit = BAND / 4
    states = walk(judge, lambda t: round((10.0 + 2.0 * BAND / 5.0 * t) / digit) * digit, 20.0)
    assert states[-1] is Stability.DRIFTING
    assert states.count(Stability.DRIFTING) > 100


@given(st.floats(2.0, 10.0), st.floats(0.1, 0.99))
def test_one_step_within_the_band_is_no_drift(at, height):
    judge = StabilityJudge(WINDOW, BAND, COUNT, GAP)
    states = walk(judge, lambda t: 10.0 + height * BAND * (t >= at), 15.0)
    assert set(states[10:]) == {Stability.STEADY}


@pytest.mark.parametrize("seed", range(5))
def test_noise_is_no_drift(judge, seed):
    noise = random.Random(seed)
    states = walk(judge, lambda _: 10.0 + noise.uniform(-0.45, 0.45) * BAND, 60.0)
    assert set(states[10:]) == {Stability.STEADY}


@pytest.mark.parametrize("seed", range(5))
def test_a_drift_in_noise_is_found(judge, seed):
    noise = random.Random(seed)
    slope = 2.5 * BAND / 5.0
    states = walk(judge, lambda t: 10.0 + slope * t + noise.uniform(-0.2, 0.2) * BAND, 30.0)
    assert states.count(Stability.DRIFTING) > 200


def test_a_drift_that_ends_becomes_steady(judge):
    states = walk(judge, lambda t: 10.0 + 2.0 * BAND / 5.0 * min(t, 8.0), 20.0)
    assert states[79] is Stability.DRIFTING
    assert states[-1] is Stability.STEADY


def test_motion_and_reset_forget_the_drift(judge):
    walk(judge, lambda t: 10.0 + 2.0 * BAND / 5.0 * t, 8.0)
    assert judge.feed(8.0, 10.5, True, "poured").state is Stability.MOVING
    states = [judge.feed(8.1 + n * 0.1, 10.5, True, f"p{n}").state for n in range(15)]
    assert states[-1] is Stability.STEADY
    judge.reset()
    assert math.isnan(judge.view(0.0).drift_per_s)


def test_a_drift_limit_of_ones_own():
    strict = StabilityJudge(WINDOW, BAND, COUNT, GAP, drift_limit_per_s=BAND / 100)
    assert walk(strict, lambda t: 10.0 + BAND / 50 * t, 10.0)[-1] is Stability.DRIFTING
    with pytest.raises(ValueError, match="drift"):
        StabilityJudge(WINDOW, BAND, COUNT, GAP, drift_limit_per_s=-1.0)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("flow", [0.8, 0.9, 1.0])
def test_a_flow_at_the_edge_of_the_band_does_not_flicker_to_steady(judge, flow, seed):
    """Each window moves by about one band, so that noise alone says whether it is held."""
    noise = random.Random(seed)
    slope = flow * BAND / WINDOW
    states = walk(judge, lambda t: 10.0 + slope * t + noise.uniform(-0.1, 0.1) * BAND, 60.0)
    assert Stability.STEADY not in states[round(4.5 * WINDOW / 0.1) :]
