"""The shop's past, made beside a demonstration that runs already, and opened when it is there.

It is made in a process of its own, so that the bench waits for nothing. What was done at the bench
meanwhile follows the past into one journal, at its own times.
"""

import logging
import subprocess
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path

from benchstation.demo import history, this_program
from benchstation.demo.orders import begin_day
from benchstation.driver_api.errors import StationError
from benchstation.screens.model.service import PastView
from benchstation.store.engine import Store

_LOG = logging.getLogger(__name__)


def making_command(units: int) -> list[str]:
    """Return the command that makes a past of so many units and says a line for each."""
    return this_program.command("demo", "--past", str(units))


class PastInMaking:
    """Makes the past in another process. May be asked from any thread."""

    def __init__(
        self, today: date, units: int = history.UNITS, command: Sequence[str] = ()
    ) -> None:
        self._today, self._units = today, units
        self._command = [*command] or making_command(units)
        self._done = 0
        self._failed = False
        self._process: subprocess.Popen[str] | None = None
        self._reader = threading.Thread(target=self._read, name="past", daemon=True)
        self.wanted = False
        """Whether somebody asked for it to be opened."""

    @property
    def file(self) -> Path | None:
        """Return the finished past."""
        return history.kept_history(self._today, self._units)

    def start(self) -> None:
        """Begin to make it."""
        self._process = subprocess.Popen(  # noqa: S603 - this program
            self._command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True
        )
        self._reader.start()

    def view(self) -> PastView:
        """Return how far it is."""
        if self._failed:
            return PastView("The shop's past could not be made. The bench works without it.")
        if self._done < self._units:
            words = f"Making the shop's past: {self._done} of {self._units} units"
            return PastView(words, self._done / self._units)
        return PastView(f"The shop's past is ready: {self._units} units.", 1.0, ready=True)

    def _read(self) -> None:
        process = self._process
        assert process is not None
        assert process.stdout is not None
        for line in process.stdout:
            with suppress(ValueError):
                self._done = min(int(line), self._units - 1)
        if process.wait() == 0 and self.file is not None:
            self._done = self._units
        else:
            self._failed = True
            _LOG.warning("making the demonstration's past ended with %s", process.returncode)

    def close(self) -> None:
        """End it, whether it is finished or not."""
        process = self._process
        if process is None:
            return
        process.terminate()
        process.wait()
        self._reader.join()
        if process.stdout is not None:
            process.stdout.close()


class Morning:
    """Begins the shop's day beside a window that is open already: the hand of a person is slower.

    ``and_then`` is begun with it.
    """

    def __init__(self, store: Store, now: datetime, and_then: Callable[[], object]) -> None:
        self._store, self._now, self._and_then = store, now, and_then
        self._thread = threading.Thread(target=self._begin, name="morning", daemon=True)

    def start(self) -> None:
        """Begin it."""
        self._thread.start()
        self._and_then()

    def _begin(self) -> None:
        try:
            begin_day(self._store, self._now)
        except StationError as error:
            _LOG.warning("the demonstration's day did not begin: %s", error)

    def close(self) -> None:
        """Wait for what was begun."""
        if self._thread.ident is not None:
            self._thread.join()


def carry_over(old: Store, new: Store, after: int) -> None:
    """Append to ``new`` what ``old`` holds after this entry, each at its own time."""
    with new.bulk():
        for entry in old.entries():
            if entry.seq <= after:
                continue
            trace = getattr(entry.event, "trace_sha256", "")
            photo = getattr(entry.event, "photo_sha256", "")
            new.append(
                [entry.event],
                person=entry.person,
                utc=entry.utc,
                traces=[old.get_trace(trace)] if trace else [],
                photos={photo: old.get_photo(photo)} if photo else None,
            )
