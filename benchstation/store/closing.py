"""The mark that says whether the records were closed, or a program has them open.

It is written into the file itself at the start, past the write-ahead log. So a file that was copied
while the bench ran, and one whose log is gone, are recognised: the mark is there and no log is.
"""

import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection

from benchstation.store.connections import read_only
from benchstation.store.errors import BehindError, in_words
from benchstation.store.migrations import COPIED, IN_USE, set_value

_YES, _NO = "yes", ""


def mark_in_use(connection: Connection) -> None:
    """Write the mark and see it into the file; the log keeps its length, so it is never empty."""
    with connection.begin():
        set_value(connection, IN_USE, _YES)
        # A copy that is put in use is a copy no more.
        set_value(connection, COPIED, "")
    raw = connection.connection.driver_connection
    assert raw is not None
    raw.execute("PRAGMA wal_checkpoint(FULL)")


def mark_closed(connection: Connection) -> None:
    """Take the mark away."""
    with connection.begin():
        set_value(connection, IN_USE, _NO)


def log_is_missing(path: Path) -> bool:
    """Return True when the file was in use and its log is not beside it. Changes nothing."""
    log = path.with_name(path.name + "-wal")
    if log.is_file() and log.stat().st_size:
        return False
    with in_words(str(path)), closing(read_only(path)) as raw:
        return _marked(raw)


def _marked(raw: sqlite3.Connection) -> bool:
    row = raw.execute("SELECT value FROM meta WHERE key = ?", (IN_USE,)).fetchone()
    return row is not None and row[0] == _YES


def require_log(path: Path) -> None:
    """Raise :class:`BehindError` when the newest entries were in a log that is not there."""
    if log_is_missing(path):
        raise BehindError(
            MISSING_LOG,
            where=str(path),
            advice="Nothing was changed. Put the file that ends in -wal back beside it if you have "
            "it; else put the newest copy in its place with 'benchstation restore DIR', or "
            "continue without what is missing with 'benchstation accept-loss': a lead signs.",
        )


MISSING_LOG = (
    "the newest entries are missing: the file was copied while a program had it open, or its log "
    "(the file that ends in -wal) is gone."
)
