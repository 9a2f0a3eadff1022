"""What an export of everything reads of the records, piece by piece, up to where they stood.

An entry is written as the canonical JSON over which its hash was made: so the SHA-256 of its line
is its hash, and whoever has the file can follow the chain with any program.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import bindparam, select

from benchstation.domain.events import UnitFiled
from benchstation.store import journal, signed_heads
from benchstation.store.chain_store import ChainStore
from benchstation.store.schema import journal as table
from benchstation.store.schema import photo, trace

_BENCHES = select(table.c.bench).distinct().order_by(table.c.bench)
_RANGE = (
    select(table)
    .where(
        table.c.bench == bindparam("own"),
        table.c.seq > bindparam("after"),
        table.c.seq <= bindparam("to"),
    )
    .order_by(table.c.seq)
)
_FILED = (
    select(table.c.unit_id)
    .where(
        table.c.bench == bindparam("own"),
        table.c.kind == UnitFiled.kind,
        table.c.seq <= bindparam("to"),
    )
    .order_by(table.c.seq)
)
_CONTENT = {"traces": trace, "photos": photo}


@dataclass(frozen=True, slots=True)
class Chain:
    """One bench's chain, or the shop's, as far as it stood when the export began."""

    bench: str
    entries: int
    hash: str


def chains(store: ChainStore) -> list[Chain]:
    """Return the chains in the records and how far they stand."""
    with store.reading() as connection:
        benches = connection.execute(_BENCHES).scalars().all()
        return [Chain(bench, *journal.head(connection, bench)) for bench in benches]


def still_begins(store: ChainStore, chain: Chain) -> bool:
    """Return True when the records still begin with a chain."""
    with store.reading() as connection:
        place = {"own": chain.bench, "after": chain.entries - 1, "to": chain.entries}
        row = connection.execute(_RANGE, place).first()
    return row is not None and row.hash == chain.hash


def lines(store: ChainStore, chain: Chain, after: int, to: int) -> Iterator[bytes]:
    """Return entries as the bytes that were hashed, each with a line's end."""
    with store.reading() as connection:
        place = {"own": chain.bench, "after": after, "to": min(to, chain.entries)}
        for row in connection.execute(_RANGE, place):
            parts = (row.bench, row.seq, row.utc, row.person, row.kind, row.body, row.prev)
            yield journal.hashed_bytes(*parts) + b"\n"


def heads(store: ChainStore, chain: Chain) -> list[dict[str, Any]]:
    """Return the signed heads of a chain, the smallest first."""
    with store.reading() as connection:
        kept = signed_heads.kept(connection, chain.bench)
    return [head.as_data() for head in kept if head.size <= chain.entries]


def filed_units(store: ChainStore, chain: Chain) -> list[str]:
    """Return the units that were filed in a chain, in their order."""
    with store.reading() as connection:
        place = {"own": chain.bench, "to": chain.entries}
        return list(dict.fromkeys(connection.execute(_FILED, place).scalars()))


def content_names(store: ChainStore, sort: str) -> list[str]:
    """Return the names of all ``traces`` or ``photos``."""
    name = _CONTENT[sort].c.sha256
    with store.reading() as connection:
        return list(connection.execute(select(name).order_by(name)).scalars())


def content(store: ChainStore, sort: str, name: str) -> bytes:
    """Return what is stored under a name."""
    rows = _CONTENT[sort]
    with store.reading() as connection:
        query = select(rows.c.data).where(rows.c.sha256 == name)
        return bytes(connection.execute(query).scalar_one())
