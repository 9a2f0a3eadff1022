"""The lag of a display, from loads set on in one go through filters whose lag is known."""

import math

import numpy as np
import pytest

from benchstation.metrology.step_response import KEPT, StepWatch


def display(at_s, load, filter_s, *, rate=10.0, noise=1e-5, seed=0, seconds=25.0):
    """Yield times and readings of a first-order filter; ``load`` comes on at ``at_s``."""
    chance, shown = np.random.default_rng(seed), 0.0
    for n in range(int(seconds * rate)):
        at = n / rate
        # The filter is stepped exactly, so that the moment of the load may lie between readings.
        since = min(max(0.0, at - at_s), 1.0 / rate)
        shown += (load(at) - shown) * (1.0 - math.exp(-since / filter_s))
        yield at, shown + chance.normal(0.0, noise)


def fed(watch, readings):
    for at, value in readings:
        watch.take(at, value)
    return watch


@pytest.mark.parametrize("filter_s", [0.2, 0.5, 1.0, 1.5])
@pytest.mark.parametrize("noise", [5e-6, 8e-5])
def test_the_lag_of_a_filter_is_its_time_constant(filter_s, noise):
    watch = fed(StepWatch(), display(2.03, lambda at: 0.5, filter_s, noise=noise))
    assert watch.delay_s == pytest.approx(filter_s, abs=0.08 + 0.03 * filter_s)


def test_a_moving_average_lags_by_half_its_length():
    watch = StepWatch()
    for n in range(120):
        at = n / 20
        watch.take(at, 0.5 * min(max(0.0, at - 2.0), 1.0))
    assert watch.delay_s == pytest.approx(0.5, abs=0.04)


def test_the_quickest_of_the_last_steps_counts():
    """A hand that sets down over half a second adds its quarter."""
    watch = StepWatch()
    for n in range(3):
        slow = 0.5 if n != 1 else 1e-6

        def load(at, slow=slow):
            return 0.5 * min(1.0, max(0.0, at - 2.0) / slow)

        fed(watch, ((at + 30 * n, v) for at, v in display(2.0, load, 0.4, seed=n)))
    assert len(watch.delays_s) == 3
    assert watch.delay_s == pytest.approx(0.4, abs=0.09)
    assert max(watch.delays_s) > 0.55


@pytest.mark.parametrize(
    "load",
    [
        lambda at: 0.006 * max(0.0, at - 2.0),
        lambda at: 0.01 if at > 2 else 0.0,
        lambda at: 0.5 + (0.2 if at < 4 else 0.0) if at > 2 else 0.0,
    ],
    ids=["a pour", "a small load", "a hand that leaned on it"],
)
def test_what_is_no_step_tells_nothing(load):
    assert fed(StepWatch(), display(0.0, load, 0.3)).delay_s is None


def test_a_reading_that_is_none_begins_anew():
    watch = StepWatch()
    for at, value in display(2.0, lambda at: 0.5, 0.5):
        watch.take(at, math.nan if 2.2 < at < 2.5 else value)
    assert watch.delay_s is None


def test_few_steps_are_kept():
    watch = StepWatch()
    for n in range(2 * KEPT):
        fed(watch, ((at + 30 * n, v) for at, v in display(2.0, lambda at: 0.5, 0.3, seed=n)))
    assert len(watch.delays_s) == KEPT
