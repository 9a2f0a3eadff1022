"""Which entry this computer wrote last, noted beside the settings before and after each append.

After a crash it tells whether the file holds all that was acknowledged, whatever became of its log:
another program may have taken the log in, or somebody may have removed it. The note waits for no
disk; a power cut may leave an older one, or none, and then a file without its log is asked about.
"""

import logging
import os
import sqlite3
from pathlib import Path

from benchstation.atomic_file import private_folder
from benchstation.store.journal import GENESIS
from benchstation.store.known_heads import place_of

FOLDER = "last"
Place = tuple[int, str]
"""Number and hash of an entry; 0 and 64 zeros: none."""
_LENGTH = 160
_LAST = "SELECT seq, hash FROM journal WHERE bench = ? ORDER BY seq DESC LIMIT 1"
_HASH = "SELECT hash FROM journal WHERE bench = ? AND seq = ?"
_LOG = logging.getLogger(__name__)


class LastEntry:
    """The note of one journal, open while its bench runs. What goes wrong is logged once."""

    def __init__(self, home: Path, path: Path) -> None:
        """Open the note; it is made if need be."""
        self._descriptor: int | None = None
        try:
            private_folder(home / FOLDER)
            file = home / FOLDER / place_of(path)
            self._descriptor = os.open(file, os.O_WRONLY | os.O_CREAT, 0o600)
        except OSError:
            _LOG.exception("the last entry cannot be noted")

    def begin(self, before: Place, after: Place) -> None:
        """Note that the journal goes from one entry to another."""
        if self._descriptor is None:
            return
        text = f"{before[0]} {before[1]} {after[0]} {after[1]}".ljust(_LENGTH - 1) + "\n"
        try:
            # One call, so that a program that is killed leaves the note before or this one.
            os.lseek(self._descriptor, 0, os.SEEK_SET)
            os.write(self._descriptor, text.encode())
        except OSError:
            _LOG.exception("the last entry cannot be noted")
            self.close()

    def done(self, now: Place) -> None:
        """Note that the journal stands at an entry."""
        self.begin(now, now)

    def close(self) -> None:
        """Close the note; it stays."""
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None


def noted(home: Path, path: Path) -> tuple[Place, Place] | None:
    """Return from which entry to which the journal went last; ``None``: it is not noted."""
    try:
        parts = (home / FOLDER / place_of(path)).read_text("ascii").split()
        before, from_hash, after, to_hash = parts
        return (int(before), from_hash), (int(after), to_hash)
    except (OSError, ValueError):
        return None


def lacks(raw: sqlite3.Connection, bench: str, note: tuple[Place, Place]) -> bool:
    """Return True when the journal does not hold all that was acknowledged when it was noted."""
    before, after = note
    if (raw.execute(_LAST, (bench,)).fetchone() or (0, GENESIS)) == before:
        return False
    row = raw.execute(_HASH, (bench, after[0])).fetchone()
    return row is None or row[0] != after[1]
