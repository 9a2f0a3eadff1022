"""The journal: typed events in a hash chain, appended and read back, never changed.

An entry's hash is SHA-256 over the canonical JSON (RFC 8785) of ``{bench, body, kind, person, prev,
seq, utc}``; ``prev`` is the hash before it, 64 zeros for the first. Anyone who holds a later hash
(printed on a certificate, say) can tell whether anything up to there was altered.
"""

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

import rfc8785
from sqlalchemy import Connection, Row, Select, Table, func, insert, select

from benchstation.rebuild.events import Event, event_from
from benchstation.store.errors import NotStorableError
from benchstation.store.schema import journal, utc_from, utc_text

_E = TypeVar("_E", bound=Event)

GENESIS = "0" * 64
PAGE = 1_000
# Beyond this RFC 8785 writes a float with an integer's digits.
_SAFE_INTEGER = 2**53 - 1


@dataclass(frozen=True, slots=True)
class Entry:
    """One event with who, when and its place in the bench's chain."""

    bench: str
    seq: int
    utc: datetime
    person: str
    kind: str
    event: Event
    prev: str
    hash: str


def canonical(value: Any) -> bytes:
    """Give the canonical JSON of ``value``. Raises :class:`NotStorableError`.

    Not-a-number, infinity, whole numbers beyond 2^53 and broken text have no form there.
    """
    try:
        return rfc8785.dumps(value)
    except rfc8785.CanonicalizationError as error:
        raise NotStorableError(
            f"this cannot be kept exactly: {error}.",
            where="journal",
            advice="Nothing of it was kept. Measure or type the value again.",
            detail=repr(error),
        ) from error


def parsed(body: bytes) -> dict[str, Any]:
    """Give the mapping of a stored body."""
    found = json.loads(body, parse_int=_number)
    if not isinstance(found, dict):
        raise ValueError("a body is a mapping")
    return found


def _number(digits: str) -> int | float:
    whole = int(digits)
    return whole if abs(whole) <= _SAFE_INTEGER else float(digits)


def hash_of(bench: str, seq: int, utc: str, person: str, kind: str, body: bytes, prev: str) -> str:
    """Give the hash of an entry; ``body`` is its canonical JSON, ``utc`` its stored text."""
    # The canonical form of the whole is its members' canonical forms, put together in key order.
    parts = (
        b'{"bench":', canonical(bench), b',"body":', body, b',"kind":', canonical(kind),
        b',"person":', canonical(person), b',"prev":', canonical(prev),
        b',"seq":', canonical(seq), b',"utc":', canonical(utc), b"}",
    )  # fmt: skip
    return hashlib.sha256(b"".join(parts)).hexdigest()


def chained(
    events: Sequence[Event], *, bench: str, head: tuple[int, str], person: str, utc: datetime
) -> list[tuple[Entry, bytes]]:
    """Give the entries, with their bodies, that follow ``head`` = (seq, hash)."""
    stamp = _stamp(utc)
    seq, prev = head
    found = []
    for event in events:
        body, seq = canonical(event.body()), seq + 1
        own = hash_of(bench, seq, stamp, person, event.kind, body, prev)
        found.append(
            (Entry(bench, seq, utc_from(stamp), person, event.kind, event, prev, own), body)
        )
        prev = own
    return found


def _stamp(utc: datetime) -> str:
    try:
        return utc_text(utc)
    except ValueError as error:
        raise NotStorableError(
            f"{error}.", where="journal", advice="This is a mistake of the caller."
        ) from error


def unit_of(body: dict[str, Any]) -> str | None:
    """Give the unit that a body belongs to, ``None`` for one that belongs to none."""
    return body.get("unit_id") or None


def write(connection: Connection, entries: Sequence[tuple[Entry, bytes]]) -> None:
    """Insert entries."""
    rows = [
        {
            "bench": entry.bench,
            "seq": entry.seq,
            "utc": utc_text(entry.utc),
            "person": entry.person,
            "kind": entry.kind,
            "unit_id": getattr(entry.event, "unit_id", None) or None,
            "body": body,
            "prev": entry.prev,
            "hash": entry.hash,
        }
        for entry, body in entries
    ]
    connection.execute(insert(journal), rows)


def head(connection: Connection, bench: str) -> tuple[int, str]:
    """Give sequence and hash of the last entry; 0 and 64 zeros when there is none."""
    mine = select(journal.c.seq, journal.c.hash).where(journal.c.bench == bench)
    row = connection.execute(mine.order_by(journal.c.seq.desc()).limit(1)).first()
    return (row.seq, row.hash) if row else (0, GENESIS)


def count(connection: Connection, bench: str) -> int:
    """Give the number of entries."""
    mine = select(func.count()).select_from(journal).where(journal.c.bench == bench)
    return connection.execute(mine).scalar_one()


def entry_of(row: Row[Any]) -> Entry:
    """Give the entry of a journal row. Raises ``EventError`` for one that is not known."""
    event = event_from(row.kind, parsed(row.body))
    return Entry(
        row.bench, row.seq, utc_from(row.utc), row.person, row.kind, event, row.prev, row.hash
    )


def read(
    connection: Connection, bench: str, *, unit_id: str | None = None, kind: str | None = None
) -> list[Entry]:
    """Give entries in their order, of one unit or kind if asked."""
    query = _mine(bench)
    if unit_id is not None:
        query = query.where(journal.c.unit_id == unit_id)
    if kind is not None:
        query = query.where(journal.c.kind == kind)
    return [entry_of(row) for row in connection.execute(query)]


def rows(connection: Connection, bench: str) -> Iterator[Row[Any]]:
    """Give all rows in their order, a page at a time."""
    last = 0
    while True:
        page = connection.execute(_mine(bench).where(journal.c.seq > last).limit(PAGE)).all()
        yield from page
        if len(page) < PAGE:
            return
        last = page[-1].seq


def _mine(bench: str) -> Select[Any]:
    return select(journal).where(journal.c.bench == bench).order_by(journal.c.seq)


def newest(connection: Connection, table: Table, kind: type[_E]) -> list[_E]:
    """Give the events of ``kind`` that a table of the newest of each points to."""
    same = (journal.c.bench == table.c.bench) & (journal.c.seq == table.c.seq)
    query = select(journal).join(table, same).order_by(journal.c.seq)
    events = [entry_of(row).event for row in connection.execute(query)]
    return [event for event in events if isinstance(event, kind)]
