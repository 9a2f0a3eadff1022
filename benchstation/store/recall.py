"""Which units an instrument's failure puts in doubt: those measured since it was good."""

from collections.abc import Sequence
from dataclasses import dataclass, fields

from sqlalchemy import select, tuple_

from benchstation.domain.events import (
    EVENT_TYPES,
    CheckWithdrawn,
    HoldTested,
    InstrumentChecked,
    StepSigned,
    UnitEvent,
)
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry, entry_of
from benchstation.store.projections import instruments_of
from benchstation.store.queries import resting_on
from benchstation.store.schema import journal

# A record lists the instruments of the whole rebuild: when it was filed says nothing of when
# they were used.
_EVIDENCE = tuple(
    kind
    for kind, cls in EVENT_TYPES.items()
    if issubclass(cls, UnitEvent)
    and (cls in (StepSigned, HoldTested) or "instrument_id" in {f.name for f in fields(cls)})
)


@dataclass(frozen=True, slots=True)
class Doubt:
    """From an instrument's last good check on, up to the next good one after it failed.

    ``good`` is ``None`` when no check was good before; ``failed`` when none failed since there
    are checks; ``again`` when none was good since it failed.
    """

    good: Entry | None
    failed: Entry | None
    again: Entry | None


def checks_of(store: ChainStore, instrument_id: str = "") -> list[Entry]:
    """Return the checks that count, oldest first, of one instrument or of all."""
    gone = {
        entry.event.entry
        for entry in store.entries(kind=CheckWithdrawn.kind)
        if isinstance(entry.event, CheckWithdrawn)
    }
    return [
        entry
        for entry in store.entries(kind=InstrumentChecked.kind)
        if isinstance(entry.event, InstrumentChecked)
        and entry.seq not in gone
        and instrument_id in ("", entry.event.instrument_id)
    ]


def last_checks(store: ChainStore) -> dict[str, Entry]:
    """Return the newest check that counts of each instrument, by its id."""
    return {
        entry.event.instrument_id: entry
        for entry in checks_of(store)
        if isinstance(entry.event, InstrumentChecked)
    }


def doubt_about(store: ChainStore, instrument_id: str) -> Doubt:
    """Return the time in which an instrument is not proven: around its newest failure, if any."""
    checks = [
        (entry, entry.event.passed)
        for entry in checks_of(store, instrument_id)
        if isinstance(entry.event, InstrumentChecked)
    ]
    good, bad = ([e for e, passed in checks if passed is wanted] for wanted in (True, False))
    if not bad:
        return Doubt(good[-1] if good else None, None, None)
    before = [e for e in good if e.seq < bad[-1].seq]
    after = good[len(before) :]
    return Doubt(before[-1] if before else None, bad[-1], after[0] if after else None)


def units_in(store: ChainStore, instrument_id: str, doubt: Doubt) -> Sequence[str]:
    """Return the ids of the units with evidence of an instrument from that time.

    A hold test names no instrument: it counts for each gauge that its unit rests on.
    """
    query = select(journal).where(
        journal.c.bench == store.bench,
        journal.c.kind.in_(_EVIDENCE),
        journal.c.seq > (doubt.good.seq if doubt.good else 0),
        tuple_(journal.c.bench, journal.c.unit_id).in_(resting_on([instrument_id])),
    )
    if doubt.again is not None:
        query = query.where(journal.c.seq < doubt.again.seq)
    known = store.instruments().get(instrument_id)
    gauge = known is not None and known.role == "gauge"
    found: dict[str, None] = {}
    with store.reading() as connection:
        for row in connection.execute(query.order_by(journal.c.seq)):
            if row.unit_id in found:
                continue
            event = entry_of(row).event
            if instrument_id in instruments_of(event) or (gauge and isinstance(event, HoldTested)):
                found[row.unit_id] = None
    return tuple(found)
