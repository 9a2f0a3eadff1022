"""The newest entries of some kinds, without reading the older ones."""

from collections.abc import Sequence

from sqlalchemy import Integer, bindparam, select

from benchstation.domain.events import Event
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry, entry_of
from benchstation.store.schema import journal, newest_fact

_NEWEST = (
    select(journal)
    .join(
        newest_fact,
        (newest_fact.c.bench == journal.c.bench) & (newest_fact.c.seq == journal.c.seq),
    )
    .where(newest_fact.c.bench == bindparam("own"), newest_fact.c.kind == bindparam("this"))
    .order_by(newest_fact.c.seq)
)
# Asked directly, SQLite walks the whole journal; the numbers alone it takes from the index.
_LISTED = journal.alias("listed")
_LAST = select(journal).where(
    journal.c.bench == bindparam("own"),
    journal.c.seq.in_(
        select(_LISTED.c.seq)
        .where(_LISTED.c.bench == bindparam("own"), _LISTED.c.kind == bindparam("this"))
        .order_by(_LISTED.c.seq.desc())
        .limit(bindparam("most", type_=Integer))
    ),
)


def newest_entries(store: ChainStore, kinds: Sequence[str], most: int) -> list[Entry]:
    """Return at most so many entries of these kinds of this bench, newest first."""
    found: list[Entry] = []
    with store.reading() as connection:
        for kind in kinds:
            these = {"own": store.bench, "this": kind, "most": most}
            found += map(entry_of, connection.execute(_LAST, these))
    return sorted(found, key=lambda entry: entry.seq, reverse=True)[:most]


def newest_of(store: ChainStore, kind: type[Event]) -> list[Entry]:
    """Return the last entry of a kind about each thing, oldest first."""
    with store.reading() as connection:
        this = {"own": store.bench, "this": kind.kind}
        return [entry_of(row) for row in connection.execute(_NEWEST, this)]
