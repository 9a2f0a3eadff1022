"""Tones: quicker towards the target, an alarm before all, and honest when nothing can be heard."""

import os
import stat
import struct
import wave

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.driver_api.errors import StationError
from benchstation.ui.shell import sound
from benchstation.ui.shell.sound import (
    FAILURES_ALLOWED,
    QUICKEST_MS,
    RATE_HZ,
    SLOWEST_MS,
    Choice,
    Sounder,
    beat_ms,
    listen_for_alarms,
    tone,
    write_wav,
)
from tests.ui.waiting import comes_and_stays
from tests.waiting import eventually


@pytest.fixture
def sounder(qapp):
    made = []

    def make(player):
        made.append(Sounder(player=player))
        return made[-1]

    yield make
    for one in made:
        one.close()
        one.deleteLater()


@pytest.fixture
def player(tmp_path):
    """Make a program that notes which file it was to play."""

    def make(code: int = 0) -> str:
        script = tmp_path / "player"
        script.write_text(f'#!/bin/sh\nbasename "$1" >> "{tmp_path}/played"\nexit {code}\n')
        script.chmod(script.stat().st_mode | stat.S_IXUSR)
        return str(script)

    if os.name == "nt":
        pytest.skip("a shell script stands for the player")
    return make


def played(tmp_path) -> list[str]:
    file = tmp_path / "played"
    return file.read_text().split() if file.exists() else []


@given(st.floats(-1, 2), st.floats(-1, 2))
def test_the_beat_quickens_towards_the_target(one, other):
    near, far = max(one, other), min(one, other)
    assert QUICKEST_MS <= beat_ms(near) <= beat_ms(far) <= SLOWEST_MS


def test_samples_have_their_length_and_soft_ends():
    samples = struct.unpack("<2205h", tone(((1000.0, 0.1),)))
    assert abs(samples[0]) < 50
    assert abs(samples[-1]) < 2000
    assert 18_000 < max(samples) < 21_000


def test_the_file_is_a_wave_file(tmp_path):
    write_wav(tmp_path / "t.wav", tone(((880.0, 0.05),)))
    with wave.open(str(tmp_path / "t.wav")) as file:
        assert (file.getframerate(), file.getnchannels(), file.getsampwidth()) == (RATE_HZ, 1, 2)
        assert file.getnframes() == int(0.05 * RATE_HZ)


def test_without_a_player_it_says_so_and_tries_again_when_asked(sounder, monkeypatch):
    monkeypatch.setattr(sound, "find_player", lambda: None)
    one = sounder(None)
    assert one.words == "Sound unavailable"
    one.update_tones(0.9, alarm=True)
    assert one.played == 0
    one.next_choice()
    assert one.words == "Sound unavailable"


def test_choices_go_round_and_never_silence_an_alarm(sounder, player):
    one = sounder(player())
    said = [one.words]
    for _ in range(3):
        one.next_choice()
        said.append(one.words)
    assert said == ["Sound on", "Sound alarms only", "Sound on", "Sound alarms only"]


def test_a_pour_is_heard_quicker_near_the_target(sounder, player, qtbot, tmp_path):
    one = sounder(player())
    one.update_tones(1.0, alarm=False)
    qtbot.waitUntil(lambda: played(tmp_path).count("pour.wav") >= 3, timeout=2000)
    one.update_tones(0.0, alarm=False)
    qtbot.wait(2 * QUICKEST_MS)
    count = one.played
    comes_and_stays(lambda: one.played == count, 2 * QUICKEST_MS)


def test_an_alarm_comes_first_and_at_once(sounder, player, qtbot, tmp_path):
    one = sounder(player())
    one.update_tones(0.05, alarm=False)
    one.update_tones(0.05, alarm=True)
    qtbot.waitUntil(lambda: "alarm.wav" in played(tmp_path), timeout=1000)


@pytest.mark.parametrize(
    ("choice", "urge", "alarm", "wanted"),
    [
        (Choice.ALL, 0.5, False, "pour"),
        (Choice.ALL, 0.5, True, "alarm"),
        (Choice.ALL, 0.0, False, ""),
        (Choice.ALARMS, 0.5, False, ""),
        (Choice.ALARMS, 0.5, True, "alarm"),
        (Choice.OFF, 0.5, True, ""),
    ],
)
def test_what_is_heard_is_what_was_chosen(sounder, player, choice, urge, alarm, wanted):
    one = sounder(player())
    one.choice = choice
    one.urge, one.alarm = urge, alarm
    assert one.wanted() == wanted


def test_a_player_that_fails_is_given_up_in_words(sounder, player, qtbot):
    one = sounder(player(1))
    told = []
    one.changed.connect(lambda: told.append(one.words))
    one.update_tones(1.0, alarm=False)
    qtbot.waitUntil(lambda: not one.available, timeout=2000)
    assert one.played >= FAILURES_ALLOWED
    assert told == ["Sound unavailable"]


def test_a_player_that_is_not_there_is_given_up_too(sounder, qtbot, tmp_path):
    one = sounder(str(tmp_path / "no such program"))
    one.update_tones(1.0, alarm=False)
    qtbot.waitUntil(lambda: not one.available, timeout=2000)


def test_players_that_hang_do_not_pile_up(sounder, qtbot, tmp_path):
    script = tmp_path / "slow"
    script.write_text("#!/bin/sh\nexec sleep 5\n")
    script.chmod(script.stat().st_mode | stat.S_IXUSR)
    one = sounder(str(script))
    for _ in range(20):
        one.play("pour")
    assert len(one.players) == sound.MOST_PLAYERS


def test_closing_leaves_nothing_behind(sounder, player):
    one = sounder(player())
    one.play("pour")
    folder = one.folder.name
    one.close()
    assert not os.path.exists(folder)
    assert one.players == []
    one.update_tones(1.0, alarm=True)
    assert one.folder is None


@pytest.mark.parametrize(
    ("platform", "found"),
    [("win32", "winsound"), ("darwin", "/bin/afplay"), ("linux", "/bin/aplay")],
)
def test_each_system_has_its_player(monkeypatch, platform, found):
    monkeypatch.undo()
    monkeypatch.setattr(sound.sys, "platform", platform)

    def find(name):
        return f"/bin/{name}" if name in ("afplay", "aplay") else ""

    monkeypatch.setattr(sound.QStandardPaths, "findExecutable", find)
    assert sound.find_player() == found


class SilentPort:
    """A station whose bench does not answer."""

    def listen(self, callback):
        self.callback = callback

    def view(self):
        raise StationError("the bench has not answered for 2.0 s.")


def test_a_bench_that_cannot_say_whether_an_alarm_is_open_is_no_silence(sounder, player, tmp_path):
    made, port = sounder(player()), SilentPort()
    listen_for_alarms(made, port)
    port.callback()
    noted = tmp_path / "played"
    eventually(lambda: noted.exists() and "alarm.wav" in noted.read_text(), why="it did not ring")
