"""Bench time goes on with the hand, never far ahead of it."""

import pytest

from benchstation.demo.held_clock import AHEAD_S, HeldClock


def test_it_runs_at_its_pace_and_waits_for_the_hand():
    wall = [100.0]
    held = HeldClock(50.0, lambda: wall[0])
    wall[0] += 0.004
    assert held.seconds() == pytest.approx(0.2)
    wall[0] += 3.0
    assert held.seconds() == AHEAD_S
    held.step()
    wall[0] += 0.002
    assert held.seconds() == pytest.approx(AHEAD_S + 0.1)
    assert (held.utc() - held.utc()).total_seconds() == pytest.approx(0.0, abs=1e-6)


def test_a_night_passes_at_once():
    wall = [0.0]
    held = HeldClock(50.0, lambda: wall[0])
    before = held.utc()
    held.skip(3600.0)
    assert held.seconds() == pytest.approx(3600.0)
    assert (held.utc() - before).total_seconds() == pytest.approx(3600.0)
    wall[0] += 3.0
    assert held.seconds() == pytest.approx(3600.0), "it waits for the hand as before"
