"""The journal: typed events in a hash chain, appended and read back, never changed.

An entry's hash is SHA-256 over the canonical JSON (RFC 8785) of ``{bench, body, kind, person, prev,
seq, utc}``; ``prev`` is the hash before it, 64 zeros for the first. Anyone who holds a later hash
(printed on a certificate, say) can tell whether anything up to there was altered.
"""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeVar

from sqlalchemy import Connection, Row, Select, Table, bindparam, func, insert, select

from benchstation.domain.events import Event, EventError, event_from, stored_body
from benchstation.store.canonical import canonical, parsed
from benchstation.store.errors import NotStorableError
from benchstation.store.schema import journal, utc_from, utc_text

_E = TypeVar("_E", bound=Event)

GENESIS = "0" * 64
PAGE = 1_000
_MINE = select(journal).where(journal.c.bench == bindparam("own")).order_by(journal.c.seq)
_PAGE = _MINE.where(journal.c.seq > bindparam("last")).limit(PAGE)
_HEAD = (
    select(journal.c.seq, journal.c.hash)
    .where(journal.c.bench == bindparam("own"))
    .order_by(journal.c.seq.desc())
    .limit(1)
)
# Asked directly, SQLite walks the whole journal; the numbers alone it takes from the index.
_LISTED = journal.alias("listed")
_SEQ = select(_LISTED.c.seq).where(_LISTED.c.bench == bindparam("own"))
_INSERT = insert(journal)


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


def hash_of(bench: str, seq: int, utc: str, person: str, kind: str, body: bytes, prev: str) -> str:
    """Return the hash of an entry; ``body`` is its canonical JSON, ``utc`` its stored text."""
    return hashlib.sha256(hashed_bytes(bench, seq, utc, person, kind, body, prev)).hexdigest()


def hashed_bytes(
    bench: str, seq: int, utc: str, person: str, kind: str, body: bytes, prev: str
) -> bytes:
    """Return what an entry's hash is over: the canonical JSON of all of it."""
    # The canonical form of the whole is its members' canonical forms, put together in key order.
    parts = (
        b'{"bench":', canonical(bench), b',"body":', body, b',"kind":', canonical(kind),
        b',"person":', canonical(person), b',"prev":', canonical(prev),
        b',"seq":', canonical(seq), b',"utc":', canonical(utc), b"}",
    )  # fmt: skip
    return b"".join(parts)


def chained(
    events: Sequence[Event], *, bench: str, head: tuple[int, str], person: str, utc: datetime
) -> list[tuple[Entry, bytes]]:
    """Return the entries, with their bodies, that follow ``head`` = (seq, hash)."""
    stamp = _stamp(utc)
    seq, prev = head
    found = []
    for given in events:
        body, seq = canonical(stored_body(given)), seq + 1
        event = _readable(given.kind, body)
        own = hash_of(bench, seq, stamp, person, event.kind, body, prev)
        found.append(
            (Entry(bench, seq, utc_from(stamp), person, event.kind, event, prev, own), body)
        )
        prev = own
    return found


def _readable(kind: str, body: bytes) -> Event:
    # What could not be read back would shut the whole journal for ever; and what is shown
    # from here on is what is stored, not what was meant.
    try:
        return event_from(kind, parsed(body))
    except EventError as error:
        raise NotStorableError(
            f"an event '{kind}' has content of another form than it should.",
            where="journal",
            advice="Nothing of it was kept. This is a mistake of the caller.",
            detail=error.detail or str(error),
        ) from error


def _stamp(utc: datetime) -> str:
    try:
        return utc_text(utc)
    except ValueError as error:
        raise NotStorableError(
            f"{error}.", where="journal", advice="This is a mistake of the caller."
        ) from error


def unit_of(body: dict[str, Any]) -> str | None:
    """Return the unit that a body belongs to, ``None`` for one that belongs to none."""
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
    connection.execute(_INSERT, rows)


def head(connection: Connection, bench: str) -> tuple[int, str]:
    """Return sequence and hash of the last entry; 0 and 64 zeros when there is none."""
    row = connection.execute(_HEAD, {"own": bench}).first()
    return (row.seq, row.hash) if row else (0, GENESIS)


def last_utc(connection: Connection, bench: str) -> datetime | None:
    """Return the time of the last entry; ``None`` when there is none."""
    seq, _ = head(connection, bench)
    this = select(journal.c.utc).where(journal.c.bench == bench, journal.c.seq == seq)
    found = connection.execute(this).scalar()
    return utc_from(found) if found is not None else None


def count(connection: Connection, bench: str) -> int:
    """Return the number of entries."""
    mine = select(func.count()).select_from(journal).where(journal.c.bench == bench)
    return connection.execute(mine).scalar_one()


def entry_of(row: Row[Any]) -> Entry:
    """Return the entry of a journal row. Raises ``EventError`` for one that is not known."""
    return entry_with(row, parsed(row.body))


def entry_with(row: Row[Any], body: dict[str, Any]) -> Entry:
    """Return the entry of a journal row whose body was read already."""
    event = event_from(row.kind, body)
    return Entry(
        row.bench, row.seq, utc_from(row.utc), row.person, row.kind, event, row.prev, row.hash
    )


def read(
    connection: Connection, bench: str, *, unit_id: str | None = None, kind: str | None = None
) -> list[Entry]:
    """Return entries in their order, of one unit or kind if asked."""
    query = selection(unit_id=unit_id, kind=kind)
    return [entry_of(row) for row in connection.execute(query, {"own": bench})]


def selection(*, unit_id: str | None = None, kind: str | None = None) -> Select[Any]:
    """Return the query for a bench's rows, the bench being the parameter ``own``."""
    query = _MINE
    for column, value in ((_LISTED.c.unit_id, unit_id), (_LISTED.c.kind, kind)):
        if value is not None:
            query = query.where(journal.c.seq.in_(_SEQ.where(column == value)))
    return query


def entry_at(connection: Connection, bench: str, seq: int) -> Entry | None:
    """Return one entry; ``None``: the chain has no such entry."""
    row = connection.execute(_MINE.where(journal.c.seq == seq), {"own": bench}).first()
    return entry_of(row) if row is not None else None


def body_at(connection: Connection, bench: str, seq: int) -> dict[str, Any]:
    """Return the body of an entry as it was stored, in the form of that day."""
    row = connection.execute(_MINE.where(journal.c.seq == seq), {"own": bench}).one()
    body: dict[str, Any] = parsed(row.body)
    return body


def unit_with(connection: Connection, benches: Sequence[str], seq: int, own: str) -> str | None:
    """Return the unit of the entry of this number and hash in some chain; ``None``: none has it."""
    place = (journal.c.bench.in_(benches), journal.c.seq == seq, journal.c.hash == own)
    unit: str | None = connection.execute(select(journal.c.unit_id).where(*place)).scalar()
    return unit


def between(connection: Connection, bench: str, after: int, to: int) -> list[Entry]:
    """Return the entries after one and up to another, in their order."""
    query = _MINE.where(journal.c.seq > after, journal.c.seq <= to)
    return [entry_of(row) for row in connection.execute(query, {"own": bench})]


def altered(connection: Connection, bench: str, unit_id: str) -> Entry | None:
    """Return the first entry of a unit whose hash is not that of its content."""
    for row in connection.execute(selection(unit_id=unit_id), {"own": bench}):
        given = (row.bench, row.seq, row.utc, row.person, row.kind, row.body, row.prev)
        if hash_of(*given) != row.hash:
            return entry_of(row)
    return None


def rows(connection: Connection, bench: str, after: int = 0) -> Iterator[Row[Any]]:
    """Return all rows after an entry in their order, a page at a time."""
    last = after
    while True:
        page = connection.execute(_PAGE, {"own": bench, "last": last}).all()
        yield from page
        if len(page) < PAGE:
            return
        last = page[-1].seq


def newest(connection: Connection, bench: str, table: Table, kind: type[_E]) -> list[_E]:
    """Return the events of ``kind`` that a bench's table of the newest of each points to."""
    same = (journal.c.bench == table.c.bench) & (journal.c.seq == table.c.seq)
    query = select(journal).join(table, same).where(table.c.bench == bench).order_by(journal.c.seq)
    events = [entry_of(row).event for row in connection.execute(query)]
    return [event for event in events if isinstance(event, kind)]
