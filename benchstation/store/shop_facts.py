"""What the shop has on record of people, specifications, materials and orders, found by subject.

An index of the entries that are about such a thing, of the bench's own chain and of the shop's as
the bench took it; what holds is the fold of ``domain/shop_chain.py`` over the entries of a subject.
"""

from collections.abc import Iterable, Sequence

from sqlalchemy import Connection, bindparam, select

from benchstation.domain.events import Conflicted, Settled
from benchstation.domain.shop_chain import (
    SHOP,
    Conflict,
    ShopFact,
    Subject,
    fold,
)
from benchstation.store import journal
from benchstation.store.journal import Entry
from benchstation.store.schema import journal as entries
from benchstation.store.schema import shop_fact
from benchstation.store.shop_fact_rows import NO_END, folded
from benchstation.store.taken import taken

_LAST = (
    select(entries.c.bench, entries.c.seq, entries.c.hash)
    .join(shop_fact, (entries.c.bench == shop_fact.c.bench) & (entries.c.seq == shop_fact.c.seq))
    .where(shop_fact.c.sort == bindparam("sort"), shop_fact.c.bench == bindparam("own"))
    .order_by(shop_fact.c.seq.desc())
    .limit(1)
)


def facts_of(
    connection: Connection, bench: str, sorts: Iterable[Subject], before: int = NO_END
) -> Sequence[ShopFact]:
    """Return what holds of these sorts of things, in the order in which it came to hold.

    ``before``: as it was when the bench wrote this entry of its own.
    """
    which = shop_fact.c.sort.in_([sort.value for sort in sorts])
    shop, own = folded(connection, which, bench, _known(connection, bench, before), before)
    return shop.in_force(own)


def stands_at(connection: Connection, bench: str, sorts: Iterable[Subject]) -> object:
    """Return a value that is another one when what holds of these sorts may be another."""
    known = taken(connection, bench)[0] if bench != SHOP else 0
    last = [
        connection.execute(_LAST, {"sort": sort.value, "own": one}).first()
        for sort in sorts
        for one in {bench, SHOP}
    ]
    return known, sorted((row.bench, row.seq, row.hash) for row in last if row is not None)


def _known(connection: Connection, bench: str, before: int) -> int:
    """Return the last entry of the shop that is known just before an entry of ``bench``."""
    if bench == SHOP:
        return before if before == NO_END else before - 1
    return taken(connection, bench, before)[0]


def facts_about(
    connection: Connection, bench: str, subject: str, before: int = NO_END
) -> Sequence[ShopFact]:
    """Return what holds of one thing, in the order in which it came to hold.

    ``before``: as it was when the bench wrote this entry of its own.
    """
    known = NO_END if before == NO_END else _known(connection, bench, before)
    shop, own = folded(connection, shop_fact.c.subject == subject, bench, known, before)
    return shop.in_force(own)


def sorts_since(connection: Connection, seq: int) -> set[str]:
    """Return the sorts of things that entries of the shop after this one are about."""
    query = select(shop_fact.c.sort).distinct()
    later = query.where(shop_fact.c.bench == SHOP, shop_fact.c.seq > seq)
    return set(connection.execute(later).scalars())


def conflicts_of(connection: Connection, bench: str) -> list[Conflict]:
    """Return the conflicts that wait for a person, as far as a bench knows; the oldest first."""
    known = taken(connection, bench)[0] if bench != SHOP else NO_END
    kinds = (Conflicted.kind, Settled.kind)
    # Asked directly, SQLite walks the whole chain; the numbers alone it takes from the index.
    listed = entries.alias("listed")
    these = select(listed.c.seq).where(
        listed.c.bench == SHOP, listed.c.kind.in_(kinds), listed.c.seq <= known
    )
    query = select(entries).where(entries.c.bench == SHOP, entries.c.seq.in_(these))
    rows = connection.execute(query.order_by(entries.c.seq))
    return list(fold(journal.entry_of(row) for row in rows).open.values())


def said_in_shop(connection: Connection, seq: int) -> Entry | None:
    """Return an entry of the shop's chain; ``None``: it is not here."""
    query = select(entries).where(entries.c.bench == SHOP, entries.c.seq == seq)
    row = connection.execute(query).first()
    return journal.entry_of(row) if row is not None else None
