"""The newest entries of some kinds, without reading the older ones."""

from collections.abc import Sequence

from sqlalchemy import select

from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry, entry_of
from benchstation.store.schema import journal


def newest_entries(store: ChainStore, kinds: Sequence[str], most: int) -> list[Entry]:
    """Return at most so many entries of these kinds of this bench, newest first."""
    found: list[Entry] = []
    with store.reading() as connection:
        for kind in kinds:
            query = (
                select(journal)
                .where((journal.c.bench == store.bench) & (journal.c.kind == kind))
                .order_by(journal.c.seq.desc())
                .limit(most)
            )
            found += map(entry_of, connection.execute(query))
    return sorted(found, key=lambda entry: entry.seq, reverse=True)[:most]
