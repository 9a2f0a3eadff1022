"""The index of what an entry is about, kept from the journals as they grow, and its fold."""

from sqlalchemy import ColumnElement, Connection, and_, insert, or_, select

from benchstation.domain.events import Adopted, Conflicted, Event, Settled
from benchstation.domain.shop_chain import SHOP, ShopFold, event_in, fold, subject_of
from benchstation.store import journal
from benchstation.store.column_limits import fitting
from benchstation.store.journal import Entry
from benchstation.store.schema import journal as entries
from benchstation.store.schema import shop_fact

NO_END = 2**31 - 1
_LISTED = select(entries).join(
    shop_fact, (entries.c.bench == shop_fact.c.bench) & (entries.c.seq == shop_fact.c.seq)
)


def subject_in(event: Event) -> str | None:
    """Return what an entry of any chain is about, of what belongs to the whole shop."""
    if isinstance(event, Settled | Conflicted):
        return event.subject
    return subject_of(event_in(event) if isinstance(event, Adopted) else event)


def project(connection: Connection, entry: Entry) -> None:
    """List an entry under what it is about."""
    subject = subject_in(entry.event)
    if subject is not None:
        row = {"bench": entry.bench, "seq": entry.seq, "subject": subject}
        row["sort"] = subject.partition(":")[0]
        connection.execute(insert(shop_fact), fitting(shop_fact, row))


def folded(
    connection: Connection,
    which: ColumnElement[bool],
    bench: str,
    known: int = NO_END,
    before: int = NO_END,
) -> tuple[ShopFold, list[Entry]]:
    """Return what the shop says of the listed entries that fit, and those of the bench itself.

    ``known`` is the last entry of the shop that counts, ``before`` the first of the bench's own
    that does not.
    """
    fits = and_(shop_fact.c.bench == SHOP, shop_fact.c.seq <= known)
    if bench != SHOP:
        fits = or_(fits, and_(shop_fact.c.bench == bench, shop_fact.c.seq < before))
    rows = connection.execute(_LISTED.where(which, fits).order_by(entries.c.seq))
    found = [journal.entry_of(row) for row in rows]
    own = [entry for entry in found if entry.bench != SHOP]
    return fold(entry for entry in found if entry.bench == SHOP), own
