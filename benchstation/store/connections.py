"""How the records file is opened: one connection writes, any number only read.

SQLite before 3.51.3 can corrupt a write-ahead log when two connections write or checkpoint at
once, so one connection per file does both (https://sqlite.org/wal.html#walresetbug).
"""

import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.pool import QueuePool, StaticPool

from benchstation.store.errors import StoreError, StoreLockedError, in_words

BUSY_MS = 5_000
READERS = 4

WRITER_PRAGMAS: dict[str, int | str] = {
    "journal_mode": "wal",
    # FULL: an acknowledged append survives a power cut; fullfsync reaches the platter on macOS.
    "synchronous": 2,
    "fullfsync": 1,
    "foreign_keys": 1,
    # Without it INSERT OR REPLACE deletes a row and no trigger sees it.
    "recursive_triggers": 1,
    "busy_timeout": BUSY_MS,
}
_READER_PRAGMAS: dict[str, int | str] = {
    "query_only": 1,
    "foreign_keys": 1,
    "wal_autocheckpoint": 0,
    "busy_timeout": BUSY_MS,
}


def writing_engine(path: Path) -> Engine:
    """Return the engine with the one connection that writes; the file is made if need be."""

    def connect() -> sqlite3.Connection:
        raw = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
        return _with_pragmas(raw, WRITER_PRAGMAS, path)

    return _engine(connect, StaticPool, "BEGIN IMMEDIATE")


def reading_engine(path: Path) -> Engine:
    """Return the engine for connections that only read, from any thread."""
    return _engine(lambda: read_only(path), QueuePool, "BEGIN", pool_size=READERS)


def read_only(path: Path) -> sqlite3.Connection:
    """Open the file so that nothing can be written through this connection."""
    uri = path.resolve().as_uri() + "?mode=ro"
    raw = sqlite3.connect(uri, uri=True, isolation_level=None, check_same_thread=False)
    return _with_pragmas(raw, _READER_PRAGMAS, path)


def undo_half_written(path: Path) -> None:
    """Undo what a program that died in its first moments left half-written: only a writer can."""
    if path.is_file() and path.with_name(path.name + "-journal").is_file():
        with in_words(str(path)), closing(sqlite3.connect(path)) as raw:
            raw.execute("SELECT count(*) FROM sqlite_master").fetchone()


def _engine(connect: object, pool: type, begin: str, **options: int) -> Engine:
    engine = create_engine(
        "sqlite+pysqlite://",
        creator=connect,
        poolclass=pool,
        **options,
    )

    # The driver's own transactions begin too late; see "SQLite transactions" in SQLAlchemy's docs.
    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        raw = connection.connection.driver_connection
        assert raw is not None
        raw.execute(begin)

    return engine


def _with_pragmas(
    raw: sqlite3.Connection, pragmas: dict[str, int | str], path: Path
) -> sqlite3.Connection:
    # A pragma that does not take is silent, so each is read back.
    try:
        for name, value in pragmas.items():
            raw.execute(f"PRAGMA {name}={value}")
            (got,) = raw.execute(f"PRAGMA {name}").fetchone()
            if got != value:
                raise StoreError(
                    f"the records cannot be kept safely here: {name} stays {got}.",
                    where=str(path),
                    advice="Keep them on a local disk, not in a network or synchronised folder.",
                )
    except BaseException:
        raw.close()
        raise
    return raw


class WriterLock:
    """Held by the one program that writes. The system lets go of it when the program dies.

    It is a lock on a small file of its own beside the records, so that readers are not shut out.
    """

    def __init__(self, path: Path) -> None:
        self._file = path.with_name(path.name + ".lock")
        self._held: sqlite3.Connection | None = None

    def take(self) -> None:
        """Take the lock. Raises :class:`StoreLockedError` when another holds it."""
        with in_words(str(self._file)):
            held = sqlite3.connect(
                self._file, isolation_level=None, timeout=0, check_same_thread=False
            )
        try:
            with in_words(str(self._file)):
                held.execute("BEGIN EXCLUSIVE")
        except StoreLockedError as error:
            held.close()
            raise StoreLockedError(
                "another program has these records open for writing.",
                where=str(self._file.with_suffix("")),
                advice="Close the other one first, or open the records for reading only.",
                detail=error.detail,
            ) from error
        except BaseException:
            held.close()
            raise
        self._held = held

    def is_held(self) -> bool:
        """Return True when a program holds the lock now. Makes nothing."""
        if self._held is not None:
            return True
        try:
            if not self._file.is_file():
                return False
            self.take()
        except StoreLockedError:
            return True
        except StoreError:
            # Where the lock cannot be written nobody can hold it.
            return False
        self.release()
        return False

    def release(self) -> None:
        """Release the lock; the small file stays."""
        if self._held is not None:
            with suppress(sqlite3.Error):
                self._held.rollback()
            self._held.close()
            self._held = None
