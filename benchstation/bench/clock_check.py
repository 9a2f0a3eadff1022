"""A computer's clock that was set back: a fact on record, and a hold for the unit on the bench.

While the program runs its clock only goes forward; so the clock is looked at when it starts.
"""

from datetime import datetime, timedelta

from benchstation.domain.events import ClockRanBack, RebuildOpened
from benchstation.store.chain_store import ChainStore
from benchstation.store.schema import utc_text
from benchstation.store.trust import SYSTEM

SET_BY_NETWORK = timedelta(seconds=2)
"""A clock that follows a time server is set back by less than this."""


def note_clock(store: ChainStore, utc: datetime) -> bool:
    """Put on record that the clock stands before the last entry; gives whether it does."""
    last = store.last_utc()
    if last is None or last - utc <= SET_BY_NETWORK:
        return False
    store.append([ClockRanBack(utc_text(last), utc_text(utc))], person=SYSTEM, utc=utc)
    return True


def ran_back_since_opening(store: ChainStore, unit_id: str) -> bool:
    """Return True when the clock was set back while the unit was worked on."""
    opened = store.entries(unit_id=unit_id, kind=RebuildOpened.kind)[0].seq
    return any(entry.seq > opened for entry in store.entries(kind=ClockRanBack.kind))
