"""Copies of the records in other places, made by a thread of its own after each filing."""

import logging
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import day_of, local_time
from benchstation.store.backup import copies_in, drill, make_copy, proven_in
from benchstation.store.copies import Copy
from benchstation.store.engine import Store
from benchstation.store.proven import Proven

OLD_AFTER = timedelta(days=1)
_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class CopyStanding:
    """How the copies stand: the newest that is sound, and what went wrong last."""

    newest: Copy | None = None
    problem: str = ""
    drilled: bool = False
    """Whether the newest was opened, folded and compared."""

    def note(self, now: datetime) -> str:
        """Return what the window says of it; empty: all is well."""
        if self.problem:
            return f"The copy of the records failed: {self.problem}"
        if self.newest is None:
            return "There is no copy of the records yet."
        if now - self.newest.utc > OLD_AFTER:
            return f"The newest copy of the records is of {local_time(self.newest.utc)}."
        return ""

    def made_today(self, now: datetime) -> bool:
        """Return True when a copy of today was opened and is sound."""
        made = self.newest
        here = day_of(now)
        return made is not None and self.drilled and day_of(made.utc) == here


class CopyKeeper:
    """Copies when it is woken, one copy at a time; the bench never waits for it."""

    def __init__(
        self,
        store: Store,
        folders: Sequence[Path],
        utc: Callable[[], datetime],
        beside: Callable[[], Mapping[str, Path]] = dict,
    ) -> None:
        """Take the places of the copies, and what gives the files to keep with each."""
        self._store, self._folders, self._utc, self._beside = store, folders, utc, beside
        self._proven: dict[Path, Proven] = {}
        """Up to where the last copy in each place was proven; once a day all is folded."""
        self._wake = threading.Event()
        self._ended = False
        self._thread = threading.Thread(target=self._run, name="copies of the records")
        self.standing = CopyStanding()

    def start(self) -> None:
        """Look at what is there, and make the first copy."""
        self._wake.set()
        self._thread.start()

    def wake(self) -> None:
        """Make a copy soon. From any thread; returns at once."""
        self._wake.set()

    def close(self) -> None:
        """End after the copy that is under way."""
        self._ended = True
        self._wake.set()
        if self._thread.is_alive():
            self._thread.join()

    def copy_now(self) -> CopyStanding:
        """Make a copy in each place, open it and compare it; return how the copies stand."""
        found = [self._copy_to(folder) for folder in self._folders]
        newest = [standing.newest for standing in found]
        # The place that is worst off is the one to speak of.
        oldest = None if None in newest else min(filter(None, newest), key=lambda copy: copy.utc)
        self.standing = CopyStanding(
            oldest,
            " ".join(dict.fromkeys(s.problem for s in found if s.problem)),
            drilled=all(standing.drilled for standing in found),
        )
        return self.standing

    def _copy_to(self, folder: Path) -> CopyStanding:
        try:
            made = make_copy(self._store.path, folder, self._utc(), self._beside())
            found = drill(made, self._store, self._since(folder, made.utc))
            self._proven.pop(folder, None)
            if found.ok and (proven := proven_in(made, self._store, found)) is not None:
                self._proven[folder] = proven
        except StationError as error:
            return CopyStanding(_older(folder), str(error))
        return CopyStanding(made, found.problem, drilled=found.ok)

    def _since(self, folder: Path, now: datetime) -> Proven | None:
        """Return what need not be folded again today; ``None``: fold all."""
        proven = self._proven.get(folder)
        if proven is None or datetime.fromisoformat(proven.whole_utc).date() != now.date():
            return None
        return proven

    def _run(self) -> None:
        while True:
            self._wake.wait()
            self._wake.clear()
            if self._ended:
                return
            try:
                self.copy_now()
            except Exception:  # noqa: BLE001 - this thread tells, it never dies silently
                _LOG.exception("the copy of the records failed")
                self.standing = CopyStanding(None, "the program failed; see its log.")


def _older(folder: Path) -> Copy | None:
    try:
        return next(iter(copies_in(folder)), None)
    except StationError:
        return None
