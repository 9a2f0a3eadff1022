"""Bench time: it goes forward whatever is done to the machine's clock, and through its sleep."""

import time
from datetime import UTC, datetime

import pytest

from benchstation.clock import StepClock, running_clock, seconds_slept_too
from tests.waiting import let_pass


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


@pytest.mark.parametrize("pace", [1.0, 20.0])
def test_it_runs_at_its_pace(pace):
    clock = running_clock(pace)
    first, wall = clock.seconds(), seconds_slept_too()
    let_pass(0.05)
    run, spent = clock.seconds() - first, seconds_slept_too() - wall
    assert run == pytest.approx(pace * spent, rel=0.1, abs=0.01 * pace)
    assert clock.utc().tzinfo is UTC


def test_a_stepped_clock_stands_still_until_told():
    clock = StepClock(datetime(2026, 3, 4, tzinfo=UTC))
    assert clock.seconds() == clock.clock.seconds() == 0.0
    assert clock.advance(2.5) == 2.5
    assert clock.utc() == datetime(2026, 3, 4, 0, 0, 2, 500_000, tzinfo=UTC)
