"""Tones: one quickens towards the target, one is for an alarm. The screen stands without them."""

import math
import struct
import sys
import tempfile
import threading
import wave
import weakref
from enum import StrEnum
from pathlib import Path

from PySide6.QtCore import QObject, QProcess, QStandardPaths, QTimer, Signal, Slot

from benchstation.driver_api.errors import StationError
from benchstation.screens.model.service import StationService
from benchstation.ui.shell.bell import MOST_PLAYERS, Bell

RATE_HZ = 22_050
SLOWEST_MS, QUICKEST_MS, ALARM_MS = 900, 110, 1100
LEAST_URGE = 0.02
FAILURES_ALLOWED = 2
PLAYERS = ("pw-play", "paplay", "aplay")


class Choice(StrEnum):
    """What is to be heard."""

    ALL = "on"
    ALARMS = "alarms only"
    OFF = "off"


def beat_ms(urge: float) -> int:
    """Return the time from one tone to the next: 0.9 s far away, 0.11 s at the target."""
    near = min(1.0, max(0.0, urge))
    return round(SLOWEST_MS * math.pow(QUICKEST_MS / SLOWEST_MS, near))


def tone(pieces: tuple[tuple[float, float], ...]) -> bytes:
    """Return 16-bit samples of (Hz, seconds) pieces, with soft ends so that none clicks."""
    samples = bytearray()
    for hertz, seconds in pieces:
        count = int(seconds * RATE_HZ)
        for n in range(count):
            soft = min(1.0, n / 110, (count - n) / 110)
            value = 0.6 * soft * math.sin(2 * math.pi * hertz * n / RATE_HZ)
            samples += struct.pack("<h", int(value * 32_767))
    return bytes(samples)


def write_wav(path: Path, samples: bytes) -> None:
    """Write samples as a WAV file."""
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        file.writeframes(samples)


def find_player() -> str | None:
    """Return the program that plays a file here; ``winsound`` stands for Windows' own."""
    if sys.platform == "win32":
        return "winsound"
    names = ("afplay",) if sys.platform == "darwin" else PLAYERS
    return next((path for name in names if (path := QStandardPaths.findExecutable(name))), None)


def listen_for_alarms(sounder: "Sounder", port: StationService) -> None:
    """Ring when the station says that something changed, in its thread: a window may stand still.

    The station outlives the window and must not keep it.
    """
    known = weakref.ref(sounder)

    def hear() -> None:
        there = known()
        if there is not None and there.choice is not Choice.OFF:
            there.ring(_rings(port))

    port.listen(hear)


def _rings(port: StationService) -> bool:
    """Return True when the alarm must ring: also while the bench gives no answer."""
    try:
        return port.view().rings
    except StationError:
        return True


class Sounder(QObject):
    """Plays tones as the moment asks for them."""

    changed = Signal()
    """What :attr:`words` says has changed."""

    def __init__(self, parent: QObject | None = None, *, player: str | None = None) -> None:
        super().__init__(parent)
        self._player = player if player is not None else find_player()
        self.choice = Choice.ALL
        self.available = bool(self._player)
        self.played = 0
        self._failures = 0
        self.urge, self.alarm = 0.0, False
        self.folder: tempfile.TemporaryDirectory[str] | None = None
        self.players: list[QProcess] = []
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._on_beat)
        self._making = threading.Lock()
        self._bell = Bell(self._alarm_tone, self._fail, ALARM_MS / 1000)

    @property
    def words(self) -> str:
        """Return what to show: the choice, or that nothing can be heard."""
        return f"Sound {self.choice}" if self.available else "Sound unavailable"

    def next_choice(self) -> None:
        """Go on to the next choice; where it failed, try again with a tone."""
        if not self.available:
            self._failures = 0
            self._player = self._player or find_player()
            self.available = bool(self._player)
            self.play("pour")
        else:
            # Never off by this switch: an alarm is muted for a time, by name and on record.
            order = [Choice.ALL, Choice.ALARMS]
            self.choice = order[(order.index(self.choice) + 1) % len(order)]
        self.ring(self.alarm)
        self.changed.emit()

    def choose(self, choice: Choice) -> None:
        """Take this choice."""
        self.choice = choice
        self.ring(self.alarm)
        self.changed.emit()

    def ring(self, alarm: bool) -> None:
        """Sound the alarm, or stop it. From any thread: it waits for no window."""
        self._bell.ring(alarm and self.available and self.choice is not Choice.OFF)

    def _alarm_tone(self) -> tuple[str, Path] | None:
        if self._player is None:
            return None
        self.played += 1
        return self._player, self._file("alarm")

    def update_tones(self, urge: float, *, alarm: bool) -> None:
        """Take over what the moment asks for; a running beat goes on undisturbed."""
        self.urge, self.alarm = urge, alarm
        self.ring(alarm)
        if not self._timer.isActive() and self.wanted() == "pour":
            self._on_beat()

    def wanted(self) -> str:
        """Return what is to be heard now: ``alarm``, ``pour``, or nothing."""
        if not self.available or self.choice is Choice.OFF:
            return ""
        if self.alarm:
            return "alarm"
        return "pour" if self.urge > LEAST_URGE and self.choice is Choice.ALL else ""

    @Slot()
    def _on_beat(self) -> None:
        # The alarm has its own bell, and the pour is silent beside it.
        if self.wanted() == "pour":
            self.play("pour")
            self._timer.start(beat_ms(self.urge))

    def _file(self, what: str) -> Path:
        with self._making:
            if self.folder is None:
                folder = tempfile.TemporaryDirectory(prefix="benchstation-tones-")
                here = Path(folder.name)
                write_wav(here / "pour.wav", tone(((1245.0, 0.06),)))
                write_wav(here / "alarm.wav", tone(((880.0, 0.28), (660.0, 0.28), (880.0, 0.28))))
                self.folder = folder
            return Path(self.folder.name) / f"{what}.wav"

    def play(self, what: str) -> None:
        """Start a player on one of the sounds."""
        # A player that hangs must not pile up.
        if self._player is None or len(self.players) >= MOST_PLAYERS:
            return
        try:
            path = self._file(what)
        except OSError:
            self._fail()
            return
        self.played += 1
        if self._player == "winsound":
            self._play_windows(path)
            return
        process = QProcess(self)
        process.finished.connect(self._on_finished)
        process.errorOccurred.connect(self._on_error)
        self.players.append(process)
        process.start(self._player, [str(path)])

    def _play_windows(self, path: Path) -> None:
        if sys.platform == "win32":
            import winsound

            try:
                flags = winsound.SND_FILENAME | winsound.SND_ASYNC | winsound.SND_NODEFAULT
                winsound.PlaySound(str(path), flags)
            except RuntimeError:
                self._fail()

    @Slot()
    def _on_finished(self) -> None:
        process = self.sender()
        if isinstance(process, QProcess):
            if process.exitCode() != 0:
                self._fail()
            else:
                self._failures = 0
            self._drop(process)

    @Slot()
    def _on_error(self) -> None:
        process = self.sender()
        if isinstance(process, QProcess) and process.error() is QProcess.ProcessError.FailedToStart:
            self._fail()
            self._drop(process)

    def _drop(self, process: QProcess) -> None:
        if process in self.players:
            self.players.remove(process)
            process.deleteLater()

    def _fail(self) -> None:
        self._failures += 1
        if self._failures > FAILURES_ALLOWED and self.available:
            self.available = False
            self.changed.emit()

    def close(self) -> None:
        """Stop the sound and remove its files."""
        self._timer.stop()
        self.urge, self.alarm, self.choice = 0.0, False, Choice.OFF
        self._bell.close()
        for process in self.players:
            process.blockSignals(True)
            process.kill()
            process.waitForFinished(200)
        self.players.clear()
        if self.folder is not None:
            self.folder.cleanup()
            self.folder = None
