"""What the bench has set for hearing an acknowledged limit again is what its guard does."""

import pytest

from benchstation.domain.guard import AlarmKind, AlarmState, Guard
from benchstation.domain.guard_limits import GuardError, HeardAgain
from tests.stepped_bench import make_bench

ACTIVE = AlarmState.ACTIVE_UNACKNOWLEDGED


@pytest.fixture
def bench(tmp_path):
    bench = make_bench(tmp_path)
    yield bench
    bench.store.close()


def acknowledged(bench, again: HeardAgain) -> tuple[Guard, float]:
    """Return a guard by the bench's limits, its limit exceeded and acknowledged at 1 s."""
    bench.session.shop.again = again
    guard = Guard(bench.session.shop.limits_at(None, 1.0))
    limit = guard.limits.limit_gauge_pa
    guard.judge_reading(1.0, limit)
    guard.acknowledge(1.0, "a", "seen")
    return guard, limit


def state(guard: Guard) -> AlarmState:
    return next(a.state for a in guard.snapshot().alarms if a.kind is AlarmKind.HIGH_LIMIT)


@pytest.mark.parametrize("rise", [0.01, 0.05, 0.1])
def test_it_is_heard_again_after_the_rise_that_is_set(bench, rise):
    guard, limit = acknowledged(bench, HeardAgain(rise, 60.0))
    guard.judge_reading(1.5, (1.0 + 0.9 * rise) * limit)
    assert state(guard) is AlarmState.ACTIVE_ACKNOWLEDGED
    guard.judge_reading(1.9, (1.001 + rise) * limit)
    assert state(guard) is ACTIVE


@pytest.mark.parametrize("after_s", [10.0, 60.0, 300.0])
def test_it_is_heard_again_after_the_time_that_is_set(bench, after_s):
    guard, limit = acknowledged(bench, HeardAgain(0.05, after_s))
    at = 1.0
    while at + 0.5 < 1.0 + after_s:
        at += 0.5
        guard.judge_reading(at, limit)
        assert state(guard) is AlarmState.ACTIVE_ACKNOWLEDGED
    guard.judge_reading(1.0 + after_s, limit)
    assert state(guard) is ACTIVE


@pytest.mark.parametrize(("rise", "after_s"), [(0.0, 60.0), (0.2, 60.0), (0.05, 0.0), (0.05, 1e9)])
def test_what_would_switch_it_off_is_refused(rise, after_s):
    with pytest.raises(GuardError):
        HeardAgain(rise, after_s)
