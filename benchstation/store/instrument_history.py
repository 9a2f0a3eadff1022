"""What is on record of an instrument over time, the newest last."""

from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import InstrumentRegistered, RepeatabilityMeasured, ScaleResponded
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry
from benchstation.store.newest import newest_of


def calibrations_of(store: ChainStore, instrument_id: str) -> list[Entry]:
    """Return each calibration of an instrument when it was first put on record, oldest first.

    What was registered again with the calibration that stood, as after another port, is left out.
    """
    found: list[Entry] = []
    before: tuple[object, ...] | None = None
    for entry in store.entries(kind=InstrumentRegistered.kind):
        event = entry.event
        if not isinstance(event, InstrumentRegistered) or event.instrument_id != instrument_id:
            continue
        key = (calibration_of(event), event.gain, event.offset, event.u_calibration)
        if key != before:
            found.append(entry)
        before = key
    return found


def studies_of(store: ChainStore, instrument_id: str) -> list[Entry]:
    """Return the repeatability studies of an instrument, oldest first."""
    return [
        entry
        for entry in store.entries(kind=RepeatabilityMeasured.kind)
        if isinstance(entry.event, RepeatabilityMeasured)
        and entry.event.instrument_id == instrument_id
    ]


def newest_studies(store: ChainStore) -> dict[str, RepeatabilityMeasured]:
    """Return the newest repeatability study of each instrument, by its id."""
    return {
        entry.event.instrument_id: entry.event
        for entry in newest_of(store, RepeatabilityMeasured)
        if isinstance(entry.event, RepeatabilityMeasured)
    }


def newest_responses(store: ChainStore) -> dict[str, ScaleResponded]:
    """Return how far each scale lags behind the hand by what was learned last, by its id."""
    return {
        entry.event.instrument_id: entry.event
        for entry in newest_of(store, ScaleResponded)
        if isinstance(entry.event, ScaleResponded)
    }
