"""A computer's clock that was set: a fact on record, and a hold for the units that are not filed.

It is looked at when the program starts, against the last entry, and while it runs, against a clock
that nobody sets.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from benchstation.bench.session import BenchSession
from benchstation.bench.waiting_facts import WaitingFacts
from benchstation.domain.events import ClockRanBack, Event, LearnedLate, RebuildOpened
from benchstation.domain.statements import Code, Statement
from benchstation.store.chain_store import ChainStore
from benchstation.store.order_queries import units_at_hand
from benchstation.store.schema import utc_text
from benchstation.store.trust import SYSTEM

SET_BY_NETWORK = timedelta(seconds=2)
"""A clock that follows a time server is set by less than this."""
LONGEST_LOOK_S = 0.5
"""Two looks at the clocks that are further apart, as in a sleep, tell nothing of either."""


def note_clock(store: ChainStore, utc: datetime) -> bool:
    """Put on record that the clock stands before the last entry; gives whether it does."""
    last = store.last_utc()
    if last is None or last - utc <= SET_BY_NETWORK:
        return False
    store.append([ClockRanBack(utc_text(last), utc_text(utc))], person=SYSTEM, utc=utc)
    return True


@dataclass(slots=True)
class ClockWatch:
    """Looks at the time of day beside the clock that nobody sets; call it at each tick."""

    _apart_s: float | None = None

    def move_on(self, session: BenchSession) -> None:
        """Put on record that the time of day was set since the last tick.

        Set forward it shortens what a unit waits, so that a leak passes for a smaller one.
        """
        began, utc, ended = session.clock.seconds(), session.clock.utc(), session.clock.seconds()
        if ended - began > LONGEST_LOOK_S:
            return
        before, self._apart_s = self._apart_s, utc.timestamp() - began
        if before is None:
            return
        back = timedelta(seconds=before - self._apart_s)
        if abs(back) <= SET_BY_NETWORK:
            return
        facts: list[Event]
        if back > SET_BY_NETWORK:
            facts = [ClockRanBack(utc_text(utc + back), utc_text(utc))]
        else:
            what, now = Statement(Code.CLOCK_SET_FORWARD), utc_text(utc)
            units = units_at_hand(session.store)
            facts = [LearnedLate(unit.unit_id, what, now) for unit in units]
        session.to_write.keep(WaitingFacts(facts, (), SYSTEM, utc))


def ran_back_since_opening(store: ChainStore, unit_id: str) -> bool:
    """Return True when the clock was set back while the unit was worked on."""
    opened = store.entries(unit_id=unit_id, kind=RebuildOpened.kind)[0].seq
    return any(entry.seq > opened for entry in store.entries(kind=ClockRanBack.kind))
