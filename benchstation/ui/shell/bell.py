"""The alarm tone, again and again, by a thread of its own: it waits for no window."""

import subprocess
import sys
import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path

MOST_PLAYERS = 4


class Bell:
    """Rings while it is told to. :meth:`ring` may be called from any thread and returns at once.

    ``find`` gives the program that plays and the file to play, or ``None``; ``failed`` is called in
    the bell's thread when a player could not be started or gave up.
    """

    def __init__(
        self,
        find: Callable[[], tuple[str, Path] | None],
        failed: Callable[[], None],
        every_s: float,
    ) -> None:
        self._find, self._failed, self._every_s = find, failed, every_s
        self._changed = threading.Condition()
        self._on = self._closed = False
        self._started = 0
        self._thread: threading.Thread | None = None
        self._players: list[subprocess.Popen[bytes]] = []
        self.rung = 0

    def ring(self, on: bool) -> None:
        """Ring from now on, at once if it did not; or be silent."""
        with self._changed:
            if on == self._on or self._closed:
                return
            self._on = on
            self._started += on
            if on and self._thread is None:
                self._thread = threading.Thread(target=self._run, name="alarm tone", daemon=True)
                self._thread.start()
            self._changed.notify()

    def close(self) -> None:
        """Stop all sound for good."""
        with self._changed:
            self._on, self._closed = False, True
            self._changed.notify()
        if self._thread is not None:
            self._thread.join(1.0)
        for player in self._players:
            player.kill()
            player.wait(1.0)
        self._players.clear()

    def _run(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._on or self._closed)
                if self._closed:
                    return
                started = self._started
            self._play()
            with self._changed:
                # Stopped and started again in the meantime is a new alarm: it is heard at once.
                self._changed.wait_for(partial(self._is_other, started), self._every_s)

    def _is_other(self, started: int) -> bool:
        return not self._on or self._started != started

    def _play(self) -> None:
        ended = [player for player in self._players if player.poll() is not None]
        for player in ended:
            self._players.remove(player)
            if player.returncode != 0:
                self._failed()
        found = self._find()
        # A player that hangs must not pile up.
        if found is None or len(self._players) >= MOST_PLAYERS:
            return
        self.rung += 1
        try:
            self._start(*found)
        except (OSError, RuntimeError):
            self._failed()

    def _start(self, player: str, path: Path) -> None:
        if player == "winsound":
            if sys.platform == "win32":
                import winsound

                flags = winsound.SND_FILENAME | winsound.SND_ASYNC | winsound.SND_NODEFAULT
                winsound.PlaySound(str(path), flags)
            return
        quiet = subprocess.DEVNULL
        # The program is one that was found among the system's own players.
        self._players.append(
            subprocess.Popen([player, str(path)], stdin=quiet, stdout=quiet, stderr=quiet)  # noqa: S603
        )
