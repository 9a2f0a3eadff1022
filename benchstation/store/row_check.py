"""One row of a journal held against the row before it and against its own hash.

The same rule for the file of a bench, for what comes from the shop, and for what goes back to it.
"""

from typing import Any

from sqlalchemy import Row

from benchstation.driver_api.errors import StationError
from benchstation.store import journal
from benchstation.store.canonical import canonical, parsed
from benchstation.store.errors import NotStorableError
from benchstation.store.journal import Entry


class RowError(Exception):
    """A row is not what it must be; its words say which and why."""


def require_chained(row: Row[Any], last: tuple[int, str]) -> None:
    """Raise :class:`RowError` for a row that does not follow ``last``, or has another hash."""
    if row.seq != last[0] + 1:
        raise RowError(f"{_place(row)} follows entry {last[0]}: something between is missing.")
    if row.prev != last[1]:
        raise RowError(f"{_place(row)} does not follow from the one before it.")
    own = journal.hash_of(row.bench, row.seq, row.utc, row.person, row.kind, row.body, row.prev)
    if own != row.hash:
        raise RowError(f"{_place(row)} was altered: its content does not match its hash.")


def checked(row: Row[Any], last: tuple[int, str]) -> Entry:
    """Return the entry of a row that is whole, in canonical form and follows ``last``.

    Raises :class:`RowError` for any other.
    """
    body = checked_body(row, last)
    try:
        return journal.entry_with(row, body)
    except StationError as error:
        raise RowError(f"{_place(row)} cannot be read: {error}") from error


def checked_body(row: Row[Any], last: tuple[int, str]) -> dict[str, Any]:
    """Return the body of such a row, without asking what its event means."""
    require_chained(row, last)
    try:
        body = parsed(row.body)
        exact = canonical(body) == row.body
    except (ValueError, NotStorableError) as error:
        raise RowError(f"{_place(row)} cannot be read: {error}") from error
    if not exact:
        raise RowError(f"{_place(row)} is not in canonical form.")
    if row.unit_id != journal.unit_of(body):
        raise RowError(f"{_place(row)} is listed under another unit.")
    return body


def _place(row: Row[Any]) -> str:
    return f"entry {row.seq} ({row.kind}, {row.utc})"
