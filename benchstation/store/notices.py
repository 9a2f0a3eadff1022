"""Who was told of a unit that a search found, and the searches that people keep."""

from collections.abc import Sequence

from sqlalchemy import bindparam, select

from benchstation.domain.events import NoticeGiven, SearchSaved
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry, entry_of
from benchstation.store.newest import newest_of
from benchstation.store.schema import journal, notice

_OF = (
    select(journal)
    .join(notice, (notice.c.bench == journal.c.bench) & (notice.c.seq == journal.c.seq))
    .where(notice.c.rebuild.in_(bindparam("these", expanding=True)))
    .order_by(notice.c.rebuild, journal.c.utc, journal.c.bench, journal.c.seq)
)


def notices_of(store: ChainStore, units: Sequence[str]) -> dict[str, list[Entry]]:
    """Return who was told of each of these units, by its id, the oldest first."""
    found: dict[str, list[Entry]] = {}
    if not units:
        return found
    with store.reading() as connection:
        for row in connection.execute(_OF, {"these": list(units)}):
            entry = entry_of(row)
            assert isinstance(entry.event, NoticeGiven)
            found.setdefault(entry.event.rebuild, []).append(entry)
    return found


def saved_searches(store: ChainStore, person: str) -> dict[str, str]:
    """Return the searches that a person keeps, by name."""
    saved = (entry.event for entry in newest_of(store, SearchSaved))
    own = (e for e in saved if isinstance(e, SearchSaved) and e.person_id == person)
    return {event.name: event.question for event in own if event.question}
