"""Bench time: it goes forward whatever is done to the machine's clock, and through its sleep."""

import time
from datetime import UTC, datetime

import pytest

from benchstation.clock import LONGEST_LOOK_S, StepClock, rehearsal_clock, running_clock


@pytest.mark.skipif(
    not hasattr(time, "CLOCK_BOOTTIME"), reason="Linux counts sleep on a clock apart"
)
def test_sleep_counts():
    before = time.clock_gettime(time.CLOCK_BOOTTIME)
    assert 0 <= running_clock().seconds() - before < 1.0


def test_the_wall_clock_dates_events_and_nothing_else(monkeypatch):
    """Set back by an hour: events say so, readings and waits do not notice."""
    clock = running_clock()
    before, utc = clock.seconds(), clock.utc()

    class SetBack(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime.fromtimestamp(time.time() - 3600, tz)

    monkeypatch.setattr("benchstation.clock.datetime", SetBack)
    assert (clock.utc() - utc).total_seconds() < -3599
    assert 0 <= clock.seconds() - before < 1.0


@pytest.fixture
def wall(monkeypatch):
    """A wall clock that is set by the test."""
    wall = [100.0]
    monkeypatch.setattr("benchstation.clock.seconds_slept_too", lambda: wall[0])
    return wall


@pytest.mark.parametrize("made", [running_clock, rehearsal_clock])
@pytest.mark.parametrize("pace", [2.0, 60.0])
def test_it_runs_at_its_pace(wall, made, pace):
    clock = made(pace)
    first, utc = clock.seconds(), clock.utc()
    for _ in range(50):
        wall[0] += 0.01
        last = clock.seconds()
    assert last - first == pytest.approx(0.5 * pace)
    assert utc.tzinfo is UTC
    assert (clock.utc() - utc).total_seconds() == pytest.approx(0.5 * pace)


def test_a_rehearsal_stands_still_while_the_program_gets_no_time(wall):
    """Sixty times as fast, a stall of a second would be a minute of pouring in one go."""
    clock, running = rehearsal_clock(60.0), running_clock(60.0)
    before = clock.seconds()
    wall[0] += 1.0
    assert clock.seconds() - before == pytest.approx(60.0 * LONGEST_LOOK_S)
    assert clock.seconds() - before == pytest.approx(60.0 * LONGEST_LOOK_S), "looking is no time"
    assert running.seconds() == pytest.approx(60.0), "a bench goes on without its station"


def test_a_stepped_clock_stands_still_until_told():
    clock = StepClock(datetime(2026, 3, 4, tzinfo=UTC))
    assert clock.seconds() == clock.clock.seconds() == 0.0
    assert clock.advance(2.5) == 2.5
    assert clock.utc() == datetime(2026, 3, 4, 0, 0, 2, 500_000, tzinfo=UTC)
