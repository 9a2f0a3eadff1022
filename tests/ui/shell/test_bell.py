"""The alarm tone rings by a thread of its own, whatever the window does."""

import os
import stat
import threading

import pytest

from benchstation.ui.shell.bell import MOST_PLAYERS, Bell
from tests.waiting import eventually, stays


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


def played(tmp_path) -> int:
    file = tmp_path / "played"
    return len(file.read_text().split()) if file.exists() else 0


def test_it_rings_while_nobody_else_does_anything(bell, tmp_path):
    one, failures = bell()
    one.ring(True)
    # This thread is the window that stands still.
    eventually(lambda: played(tmp_path) >= 3)
    assert failures == []


def test_it_is_silent_when_told_and_rings_again_at_once(bell, tmp_path):
    one, _ = bell(every_s=30.0)
    one.ring(True)
    eventually(lambda: one.rung == 1)
    one.ring(True)
    stays(lambda: one.rung == 1, 0.1, "told twice is told once")
    one.ring(False)
    one.ring(True)
    eventually(lambda: one.rung == 2)


def test_a_player_that_fails_is_told(bell):
    one, failures = bell("exit 1")
    one.ring(True)
    eventually(lambda: len(failures) >= 2)
    assert set(failures) == {"alarm tone"}


def test_a_program_that_is_not_there_is_told(tmp_path):
    failures = []
    one = Bell(lambda: ("no such program", tmp_path), lambda: failures.append(1), 0.05)
    one.ring(True)
    eventually(lambda: len(failures) >= 2)
    one.close()


def test_players_that_hang_do_not_pile_up_and_end_with_it(bell):
    one, _ = bell("exec sleep 30", every_s=0.01)
    one.ring(True)
    eventually(lambda: one.rung == MOST_PLAYERS)
    stays(lambda: one.rung == MOST_PLAYERS, 0.2)
    players = list(one._players)
    one.close()
    assert all(player.returncode is not None for player in players)
    one.ring(True)
    assert not one._on
