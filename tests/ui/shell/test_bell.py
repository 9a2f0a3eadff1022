"""The alarm tone rings by a thread of its own, whatever the window does."""

import os
import stat
import threading
import time

import pytest

from benchstation.ui.shell.bell import MOST_PLAYERS, Bell


@pytest.fixture
def bell(tmp_path):
    """Make a bell whose player notes that it played, and those that failed."""
    made = []

    def make(script: str = "", every_s: float = 0.05):
        program = tmp_path / "player"
        program.write_text(f'#!/bin/sh\necho "$1" >> "{tmp_path}/played"\n{script}\n')
        program.chmod(program.stat().st_mode | stat.S_IXUSR)
        failures = []
        made.append(
            Bell(
                lambda: (str(program), tmp_path / "alarm.wav"),
                lambda: failures.append(threading.current_thread().name),
                every_s,
            )
        )
        return made[-1], failures

    if os.name == "nt":
        pytest.skip("a shell script stands for the player")
    yield make
    for one in made:
        one.close()


def until(holds, seconds: float = 3.0) -> None:
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.005)


def played(tmp_path) -> int:
    file = tmp_path / "played"
    return len(file.read_text().split()) if file.exists() else 0


def test_it_rings_while_nobody_else_does_anything(bell, tmp_path):
    one, failures = bell()
    one.ring(True)
    # This thread is the window that stands still.
    time.sleep(0.6)
    assert played(tmp_path) >= 3
    assert failures == []


def test_it_is_silent_when_told_and_rings_again_at_once(bell, tmp_path):
    one, _ = bell(every_s=30.0)
    one.ring(True)
    until(lambda: one.rung == 1)
    one.ring(True)
    time.sleep(0.1)
    assert one.rung == 1, "told twice is told once"
    one.ring(False)
    one.ring(True)
    until(lambda: one.rung == 2)


def test_a_player_that_fails_is_told(bell):
    one, failures = bell("exit 1")
    one.ring(True)
    until(lambda: len(failures) >= 2)
    assert set(failures) == {"alarm tone"}


def test_a_program_that_is_not_there_is_told(tmp_path):
    failures = []
    one = Bell(lambda: ("no such program", tmp_path), lambda: failures.append(1), 0.05)
    one.ring(True)
    until(lambda: len(failures) >= 2)
    one.close()


def test_players_that_hang_do_not_pile_up_and_end_with_it(bell):
    one, _ = bell("exec sleep 30", every_s=0.01)
    one.ring(True)
    until(lambda: one.rung == MOST_PLAYERS)
    time.sleep(0.2)
    assert one.rung == MOST_PLAYERS
    players = list(one._players)
    one.close()
    assert all(player.returncode is not None for player in players)
    one.ring(True)
    assert not one._on
