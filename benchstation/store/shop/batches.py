"""What of a bench's journal is sent in one go: entries in their order and the content they name."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, Row, Table, bindparam, func, select

from benchstation.store import journal
from benchstation.store.schema import journal as journal_table
from benchstation.store.schema import photo, trace

LEAST_BYTES, FIRST_BYTES, MOST_BYTES = 250_000, 2_000_000, 16_000_000
"""A slow line must bring a batch over in its time; a fast one is not held up by many commits."""
ROWS_A_PAGE = 250
"""So many rows are read at once: those beyond the batch are read in vain."""
CONTENT = {"trace": trace, "photo": photo}
# It begins with what is the same in both, so that a long body is skipped over quickly.
_NAMED = re.compile(rb'_sha256":"([0-9a-f]{64})"')
_KINDS = {f'"{kind}'.encode(): kind for kind in CONTENT}
_AFTER = (
    select(journal_table)
    .where(journal_table.c.bench == bindparam("own"), journal_table.c.seq > bindparam("last"))
    .order_by(journal_table.c.seq)
    .limit(bindparam("page"))
)
NAMES_AT_ONCE = 500
_Sizes = dict[tuple[str, str], int]


@dataclass(slots=True)
class Batch:
    """Rows of the journal that follow each other, and the names of their content by its table."""

    rows: list[Row[Any]] = field(default_factory=list)
    names: dict[str, set[str]] = field(default_factory=lambda: {name: set() for name in CONTENT})

    def end(self, before: tuple[int, str]) -> tuple[int, str]:
        """Return number and hash of the last entry; ``before`` where there is none."""
        return (self.rows[-1].seq, self.rows[-1].hash) if self.rows else before


def next_batch(local: Connection, bench: str, last: int, most_bytes: int = MOST_BYTES) -> Batch:
    """Return what follows entry ``last``: at least one entry where there is one, however large."""
    found, size = Batch(), 0
    for row, content_sizes in _measured(local, bench, last):
        new = {one: n for one, n in content_sizes.items() if one[1] not in found.names[one[0]]}
        size += len(row.body) + sum(new.values())
        if found.rows and size > most_bytes:
            break
        found.rows.append(row)
        for table, name in new:
            found.names[table].add(name)
    return found


def _measured(local: Connection, bench: str, last: int) -> Iterator[tuple[Row[Any], _Sizes]]:
    """Return rows in their order, each with the content it names and how large that is."""
    more = True
    while more:
        page = local.execute(_AFTER, {"own": bench, "last": last, "page": ROWS_A_PAGE}).all()
        more = len(page) == ROWS_A_PAGE
        named = [named_in(row.body) for row in page]
        sizes = _sizes(local, {one for names in named for one in names})
        for row, names in zip(page, named, strict=True):
            last = row.seq
            yield row, {one: sizes.get(one, 0) for one in names}


def named_in(body: bytes) -> set[tuple[str, str]]:
    """Return the content that a body names: its table and its SHA-256."""
    found = set()
    for match in _NAMED.finditer(body):
        kind = _KINDS.get(body[match.start() - 6 : match.start()])
        if kind is not None:
            found.add((kind, match[1].decode()))
    return found


def _sizes(local: Connection, named: set[tuple[str, str]]) -> _Sizes:
    found: _Sizes = {}
    for kind, table in CONTENT.items():
        names = [name for of, name in named if of == kind]
        for part in parts(names):
            query = select(table.c.sha256, func.length(table.c.data))
            for name, length in local.execute(query.where(table.c.sha256.in_(part))):
                found[kind, name] = length
    return found


def content(local: Connection, table: Table, names: Iterable[str]) -> Iterable[tuple[str, bytes]]:
    """Return content by its name, in the order of the names; what is not there is left out."""
    for name in sorted(names):
        data = local.execute(select(table.c.data).where(table.c.sha256 == name)).scalar()
        if data is not None:
            yield name, data


def parts(names: list[str]) -> Iterable[list[str]]:
    """Return the names in parts that one statement takes."""
    for begin in range(0, len(names), NAMES_AT_ONCE):
        yield names[begin : begin + NAMES_AT_ONCE]


def hash_at(local: Connection, bench: str, seq: int) -> str:
    """Return the hash of an entry; 64 zeros for number 0, empty where it is not there."""
    if seq == 0:
        return journal.GENESIS
    query = select(journal_table.c.hash).where(
        journal_table.c.bench == bench, journal_table.c.seq == seq
    )
    return local.execute(query).scalar() or ""
