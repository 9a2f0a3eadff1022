"""The mark that says whether the records were closed, or a program has them open.

It is written into the file itself at the start, past the write-ahead log. So a file that was copied
while the bench ran, and one whose log is gone, are recognised: the mark is there. Whether the
entries in a lost log are missing, the note of the last entry beside the settings tells.
"""

import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import Connection

from benchstation.store.connections import WriterLock, read_only
from benchstation.store.errors import BehindError, in_words
from benchstation.store.known_heads import KnownHead, KnownHeads
from benchstation.store.last_entry import lacks, noted
from benchstation.store.migrations import COPIED, IN_USE, set_value

_YES, _NO = "yes", ""
MISSING_LOG = (
    "the newest entries are missing: the file was copied while a program had it open, or its log "
    "(the file that ends in -wal) is gone."
)
MISSING_ENTRIES = (
    "the newest entries are missing: this computer noted {wrote}, and the journal ends at {ends}. "
    "The file was copied while a program had it open, or its log (the file that ends in -wal) was "
    "lost or cut."
)
NOT_CLOSED = (
    "the file was copied by hand while a program had it open, or its program was killed and the "
    "file was moved since: its newest entries may be missing."
)


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


def require_entries(path: Path, known: KnownHeads | None) -> None:
    """Raise :class:`BehindError` when entries are missing that were in a log, before it is opened.

    Changes nothing. Where this computer noted the last entry, that alone counts.
    """
    with in_words(str(path)), closing(read_only(path)) as raw:
        missing = _missing(raw, path, known, _held(raw, path, known)) if _marked(raw) else ""
    if missing:
        raise BehindError(
            missing,
            where=str(path),
            advice="Nothing was changed. Put the file that ends in -wal back beside it if you have "
            "it; else put the newest copy in its place with 'benchstation restore DIR', or "
            "continue without what is missing with 'benchstation accept-loss': a lead signs.",
        )


def why_not_whole(path: Path, known: KnownHeads | None) -> str:
    """Return why the file is not taken for whole as it lies there; empty: it was closed, or runs.

    A copy that was made by hand while a program had the file open is never whole.
    """
    with in_words(str(path)), closing(read_only(path)) as raw:
        if not _marked(raw):
            return ""
        held = _held(raw, path, known)
        at_its_place = held is not None and Path(held.file) == path.resolve()
        if WriterLock(path).is_held():
            return ""
        return _missing(raw, path, known, held) or ("" if at_its_place else NOT_CLOSED)


def _missing(
    raw: sqlite3.Connection, path: Path, known: KnownHeads | None, held: KnownHead | None
) -> str:
    note = noted(known.home, Path(held.file)) if known is not None and held is not None else None
    if held is not None and note is not None:
        if not lacks(raw, held.head.bench, note):
            return ""
        query = "SELECT coalesce(max(seq), 0) FROM journal WHERE bench = ?"
        ends = raw.execute(query, (held.head.bench,)).fetchone()[0]
        return MISSING_ENTRIES.format(wrote=f"entry {note[1][0]}", ends=f"entry {ends}")
    return "" if _has_log(path) else MISSING_LOG


def _held(raw: sqlite3.Connection, path: Path, known: KnownHeads | None) -> KnownHead | None:
    """Return what this computer knows of the journal, by its place or by its first entry."""
    if known is None:
        return None
    query = (
        "SELECT hash FROM journal WHERE seq = 1 AND bench = "
        "(SELECT value FROM meta WHERE key = 'bench')"
    )
    row = raw.execute(query).fetchone()
    return known.of(path, row[0] if row is not None else "")


def _has_log(path: Path) -> bool:
    log = path.with_name(path.name + "-wal")
    return log.is_file() and log.stat().st_size > 0


def _marked(raw: sqlite3.Connection) -> bool:
    row = raw.execute("SELECT value FROM meta WHERE key = ?", (IN_USE,)).fetchone()
    return row is not None and row[0] == _YES
