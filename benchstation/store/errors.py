"""What can go wrong with the store, in words.

StoreError                  base; nothing of what was asked for was kept unless it says so
+-- StoreLockedError        another program is writing, or has the store open for writing
+-- StoreReadOnlyError      the file or its folder may not be written
+-- NotBegunError           the file was being made when the program ended
+-- StoreFullError          the disk is full
+-- StoreCorruptError       the file is damaged, was altered, or is no store at all
+-- BehindError             entries are missing that were there: a person must decide
+-- MovedError              the bench was moved to another computer
+-- NewerStoreError         a newer version wrote the file
+-- NotStorableError        an event or a trace has content that cannot be kept exactly
+-- NotInOrderError         an event does not follow from what is on record (filed twice, say)
+-- NotOnRecordError        nothing by that name is on record
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError

from benchstation.driver_api.errors import StationError


class StoreError(StationError):
    """The store cannot do what was asked."""


class StoreLockedError(StoreError):
    """Another program holds the store."""


class StoreReadOnlyError(StoreError):
    """The store may not be written."""


class NotBegunError(StoreError):
    """The file was being made when the program ended; it holds nothing yet."""


class StoreFullError(StoreError):
    """There is no room left for the store to grow."""


class StoreCorruptError(StoreError):
    """The store is damaged, was altered, or is not a store."""


class BehindError(StoreError):
    """The records lack entries that were there, or are signed by another key."""


class MovedError(StoreError):
    """The bench was moved to another computer and is not written here."""


class NewerStoreError(StoreError):
    """The store has a form that only a newer version knows."""


class NotStorableError(StoreError):
    """Content that could not be given back exactly is not taken."""


class NotInOrderError(StoreError):
    """An event contradicts what is on record."""


class NotOnRecordError(StoreError):
    """Nothing by that name is on record."""


_LAST_COPY = (
    "Put the last copy in its place: 'benchstation restore FOLDER'. That keeps the damaged file "
    "beside it, for recovery."
)
_BY_CODE: dict[int, tuple[type[StoreError], str, str]] = {
    sqlite3.SQLITE_FULL: (
        StoreFullError,
        "the disk is full; nothing of this was kept, all earlier records are safe.",
        "Free some space, then do it again before you start the next unit.",
    ),
    sqlite3.SQLITE_READONLY: (
        StoreReadOnlyError,
        "the records can be read but not written; nothing of this was kept.",
        "Check that you may write the file and its folder.",
    ),
    sqlite3.SQLITE_PERM: (
        StoreReadOnlyError,
        "the system does not let this program use the records.",
        "Check that you may read and write the file and its folder.",
    ),
    sqlite3.SQLITE_CORRUPT: (
        StoreCorruptError,
        "the records file is damaged; nothing of this was kept.",
        _LAST_COPY,
    ),
    sqlite3.SQLITE_NOTADB: (
        StoreCorruptError,
        "this file does not hold records of this program, or it is damaged.",
        "Choose another file, or put the last copy in its place: 'benchstation restore FOLDER'.",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        StoreError,
        "the records file cannot be opened.",
        "Check that the folder exists and that you may read and write it.",
    ),
    sqlite3.SQLITE_IOERR: (
        StoreError,
        "the disk failed while the records were read or written; nothing of this was kept.",
        "Check the disk and its cable, then do it again.",
    ),
}
_BUSY = (
    StoreLockedError,
    "another program is writing to the records; nothing of this was kept.",
    "Close the other program, then do it again.",
)
_BY_CODE[sqlite3.SQLITE_BUSY] = _BY_CODE[sqlite3.SQLITE_LOCKED] = _BUSY


def worded(error: BaseException, where: str) -> StoreError | None:
    """Return the worded form of a database error; ``None`` when it is a mistake of this program."""
    cause = error.orig if isinstance(error, DBAPIError) else error
    if not isinstance(cause, sqlite3.Error):
        return None
    # Extended codes carry the primary one in the low byte.
    code = getattr(cause, "sqlite_errorcode", None)
    if str(cause) == "unsupported file format":
        # A damaged header; SQLite has no code of its own for it.
        code = sqlite3.SQLITE_NOTADB
    found = _BY_CODE.get(code & 0xFF) if code is not None else None
    if found is None:
        return None
    kind, what, advice = found
    return kind(what, where=where, advice=advice, detail=repr(cause))


@contextmanager
def in_words(where: str) -> Iterator[None]:
    """Turn database errors of the world into worded ones; bugs pass through."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as error:
        known = worded(error, where)
        if known is None:
            raise
        raise known from error
    except UnicodeDecodeError as error:
        # A damaged schema: SQLite's own message quotes it, and it is no text any more.
        raise StoreCorruptError(
            "the records file is damaged; nothing of this was kept.",
            where=where,
            advice=_LAST_COPY,
            detail=repr(error),
        ) from error
