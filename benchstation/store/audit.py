"""Entries of all journals, the newest first, a page at a time, by kind, person, unit and time.

Each chain is read backwards from its own place, by its number, kind or unit, never by the whole of
it; where only a person is named, so many entries are looked at for a page and no more.
"""

import heapq
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from operator import attrgetter
from typing import Any

from sqlalchemy import ColumnElement, Connection, Row, Select, bindparam, select, union_all

from benchstation.store import journal as journals
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry, entry_of
from benchstation.store.schema import journal, utc_text

LOOKED_AT = 4_000
CHUNK = 60
_NEXT_BENCH = (
    select(journal.c.bench)
    .where(journal.c.bench > bindparam("last"))
    .order_by(journal.c.bench)
    .limit(1)
)


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which entries: of these kinds and people, of one unit, in a time; empty: any."""

    kinds: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    unit_id: str = ""
    since: datetime | None = None
    until: datetime | None = None


@dataclass(frozen=True, slots=True)
class Page:
    """Entries, and where the next page begins; empty: nothing is behind them."""

    entries: tuple[Entry, ...]
    before: str


def page_of(store: ChainStore, wanted: Wanted, *, before: str = "", limit: int = 60) -> Page:
    """Return a page of entries. Raises ``ValueError`` for a place that is none."""
    places = _places(before)
    with store.reading() as connection:
        chains = [
            _Chain(connection, bench, wanted, places.get(bench))
            for bench in _benches(connection)
            if not places or bench in places
        ]
        newest = attrgetter("utc")
        merged = heapq.merge(*(chain.rows() for chain in chains), key=newest, reverse=True)
        found = []
        for row in islice(merged, limit):
            found.append(entry_of(row))
            next(chain for chain in chains if chain.bench == row.bench).before = row.seq
    left = {chain.bench: chain.place for chain in chains if chain.place > 1}
    return Page(tuple(found), json.dumps(left) if left else "")


def each_entry(store: ChainStore, wanted: Wanted) -> Iterator[Entry]:
    """Return all entries, the newest first, read as they are taken."""
    before = ""
    while True:
        page = page_of(store, wanted, before=before, limit=500)
        yield from page.entries
        before = page.before
        if not before:
            return


def _benches(connection: Connection) -> list[str]:
    """Return every chain: a step in the index for each, where to ask for all would walk it."""
    found: list[str] = []
    while True:
        last = found[-1] if found else ""
        bench = connection.execute(_NEXT_BENCH, {"last": last}).scalar()
        if bench is None:
            return found
        found.append(bench)


class _Chain:
    """One chain, read backwards."""

    def __init__(
        self, connection: Connection, bench: str, wanted: Wanted, before: int | None
    ) -> None:
        self._connection, self.bench, self._wanted = connection, bench, wanted
        head = journals.head(connection, bench)[0]
        last = min(head + 1, before or head + 1)
        if wanted.until is not None:
            last = min(last, _first_at(connection, bench, wanted.until, head))
        first = 1 if wanted.since is None else _first_at(connection, bench, wanted.since, head)
        self.before, self._first, self._open, self._looked = last, first, True, last

    @property
    def place(self) -> int:
        """Return before which entry the next page looks; 0: there is nothing more."""
        if self._open:
            return self.before if self.before > self._first else 0
        # All that was found down to there is given: what was only looked at is not looked at twice.
        return self._looked if self._looked > self._first else 0

    def rows(self) -> Iterator[Row[Any]]:
        """Return the rows that fit, the newest first, as far as one page looks."""
        by_index = bool(self._wanted.kinds or self._wanted.unit_id)
        lowest = self._first if by_index else max(self._first, self.before - LOOKED_AT)
        before = self.before
        while before > lowest:
            rows = self._connection.execute(self._query(lowest, before)).all()
            yield from rows
            if len(rows) < CHUNK:
                break
            before = rows[-1].seq
        self._open, self._looked = False, lowest

    def _query(self, lowest: int, before: int) -> Select[Any]:
        own: list[ColumnElement[bool]] = [
            journal.c.bench == self.bench,
            journal.c.seq >= lowest,
            journal.c.seq < before,
        ]
        if self._wanted.people:
            own.append(journal.c.person.in_(self._wanted.people))
        if self._wanted.unit_id:
            own.append(journal.c.unit_id == self._wanted.unit_id)
        # A stream of each kind: asked for several at once, a chain would be walked.
        kinds: Sequence[ColumnElement[bool] | None] = [None]
        if self._wanted.kinds and not self._wanted.unit_id:
            kinds = [journal.c.kind == kind for kind in self._wanted.kinds]
        elif self._wanted.kinds:
            own.append(journal.c.kind.in_(self._wanted.kinds))
        each = [
            select(journal.c.seq)
            .where(*own, *([kind] if kind is not None else []))
            .order_by(journal.c.seq.desc())
            .limit(CHUNK)
            .subquery()
            for kind in kinds
        ]
        some = union_all(*(select(one.c.seq) for one in each)).subquery()
        return (
            select(journal)
            .where(journal.c.bench == self.bench, journal.c.seq.in_(select(some.c.seq)))
            .order_by(journal.c.seq.desc())
            .limit(CHUNK)
        )


def _first_at(connection: Connection, bench: str, utc: datetime, head: int) -> int:
    """Return the first entry at or after a time, halving the chain: times grow with its numbers."""
    wanted, low, high = utc_text(utc), 1, head + 1
    while low < high:
        middle = (low + high) // 2
        this = select(journal.c.utc).where(journal.c.bench == bench, journal.c.seq == middle)
        found = connection.execute(this).scalar()
        low, high = (middle + 1, high) if found is not None and found < wanted else (low, middle)
    return low


def _places(text: str) -> dict[str, int]:
    if not text:
        return {}
    found = json.loads(text)
    if not isinstance(found, dict) or any(type(seq) is not int for seq in found.values()):
        raise ValueError(f"'{text}' is no place in the journals")
    return found
