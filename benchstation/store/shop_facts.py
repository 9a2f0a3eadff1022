"""What the shop has on record of people, specifications, materials and orders, found by subject.

An index of the entries that are about such a thing, of the bench's own chain and of the shop's as
the bench took it; what holds is the fold of ``domain/shop_chain.py`` over the entries of a subject.
"""

from collections.abc import Iterable, Sequence

from sqlalchemy import ColumnElement, Connection, and_, or_, select

from benchstation.domain.events import Conflicted, Settled
from benchstation.domain.shop_chain import (
    SHOP,
    Conflict,
    ShopFact,
    ShopFold,
    Subject,
    fold,
)
from benchstation.store import journal
from benchstation.store.journal import Entry
from benchstation.store.schema import journal as entries
from benchstation.store.schema import shop_fact
from benchstation.store.taken import NO_END, taken

_LISTED = select(entries).join(
    shop_fact, (entries.c.bench == shop_fact.c.bench) & (entries.c.seq == shop_fact.c.seq)
)


def folded(
    connection: Connection, which: ColumnElement[bool], bench: str, before: int = NO_END
) -> tuple[ShopFold, list[Entry]]:
    """Return what the shop says of the listed entries that fit, and those of the bench itself.

    ``before``: as it was when the bench wrote this entry of its own.
    """
    known = taken(connection, bench, before)[0] if bench != SHOP else NO_END
    shop = and_(shop_fact.c.bench == SHOP, shop_fact.c.seq <= known)
    own = and_(shop_fact.c.bench == bench, shop_fact.c.seq < before)
    fits = or_(shop, own) if bench != SHOP else shop
    query = _LISTED.where(which, fits).order_by(entries.c.seq)
    found = [journal.entry_of(row) for row in connection.execute(query)]
    mine = [entry for entry in found if entry.bench == bench and bench != SHOP]
    return fold(entry for entry in found if entry.bench == SHOP), mine


def facts_of(
    connection: Connection, bench: str, sorts: Iterable[Subject], before: int = NO_END
) -> Sequence[ShopFact]:
    """Return what holds of these sorts of things, in the order in which it came to hold.

    ``before``: as it was when the bench wrote this entry of its own.
    """
    which = shop_fact.c.sort.in_([sort.value for sort in sorts])
    shop, own = folded(connection, which, bench, before)
    return shop.in_force(own)


def conflicts_of(connection: Connection, bench: str) -> list[Conflict]:
    """Return the conflicts that wait for a person, as far as a bench knows; the oldest first."""
    known = taken(connection, bench)[0] if bench != SHOP else NO_END
    kinds = (Conflicted.kind, Settled.kind)
    query = select(entries).where(
        entries.c.bench == SHOP, entries.c.kind.in_(kinds), entries.c.seq <= known
    )
    rows = connection.execute(query.order_by(entries.c.seq))
    return list(fold(journal.entry_of(row) for row in rows).open.values())


def said_in_shop(connection: Connection, seq: int) -> Entry | None:
    """Return an entry of the shop's chain; ``None``: it is not here."""
    query = select(entries).where(entries.c.bench == SHOP, entries.c.seq == seq)
    row = connection.execute(query).first()
    return journal.entry_of(row) if row is not None else None
