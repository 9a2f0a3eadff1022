"""What is on record of an instrument over time, the newest last."""

from benchstation.domain.events import RepeatabilityMeasured
from benchstation.store.engine import Store
from benchstation.store.journal import Entry


def studies_of(store: Store, instrument_id: str) -> list[Entry]:
    """Return the repeatability studies of an instrument, oldest first."""
    return [
        entry
        for entry in store.entries(kind=RepeatabilityMeasured.kind)
        if isinstance(entry.event, RepeatabilityMeasured)
        and entry.event.instrument_id == instrument_id
    ]


def newest_studies(store: Store) -> dict[str, RepeatabilityMeasured]:
    """Return the newest repeatability study of each instrument, by its id."""
    return {
        entry.event.instrument_id: entry.event
        for entry in store.entries(kind=RepeatabilityMeasured.kind)
        if isinstance(entry.event, RepeatabilityMeasured)
    }
