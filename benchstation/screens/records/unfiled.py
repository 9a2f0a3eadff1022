"""Why a unit has no record, in words: it is on the bench, lies aside, or was abandoned."""

from collections.abc import Mapping
from datetime import datetime
from types import UnionType

from benchstation.domain.events import (
    Event,
    RebuildAbandoned,
    RebuildOpened,
    UnitSetAside,
    UnitWaits,
)
from benchstation.domain.rebuild import Rebuild, fold
from benchstation.domain.specification import specification_from
from benchstation.quantities.formatter import local_time
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry
from benchstation.store.queries import get_unit
from benchstation.store.unit_rows import UnitRow

WHEN_FILED = "Its record is written once, at the last step of its route."
KEPT = (
    "A record is only written of a unit that is finished. All that was done until then stays in "
    "the journal, and the check of the journal covers it."
)


def no_record(store: ChainStore, unit: UnitRow, names: Mapping[str, str]) -> str:
    """Return why a unit that is not filed has no record, since when, by whom, and what is kept."""
    entries = store.entries(unit_id=unit.unit_id)
    if unit.state == "abandoned":
        last, reason = _last(entries, RebuildAbandoned)
        return f"No record: abandoned {_by(last, names)}.\n\nReason: {reason}\n\n{KEPT}"
    if unit.state == "aside":
        last, reason = _last(entries, UnitSetAside | UnitWaits)
        if isinstance(last.event, UnitWaits):
            due = local_time(datetime.fromisoformat(last.event.due_utc))
            return (
                f"No record yet: it waits for its second reading, from {due} on; "
                f"set down {_by(last, names)}.\n\n{WHEN_FILED}"
            )
        return f"No record yet: set aside {_by(last, names)}.\n\nReason: {reason}\n\n{WHEN_FILED}"
    opened, _ = _last(entries, RebuildOpened)
    return f"No record yet: it is on the bench, begun {_by(opened, names)}.\n\n{WHEN_FILED}"


def rebuild_of(store: ChainStore, unit_id: str) -> Rebuild:
    """Return a unit that is not filed, as its entries leave it."""
    return _folded(store, store.entries(unit_id=unit_id))


def _folded(store: ChainStore, entries: list[Entry]) -> Rebuild:
    opened = entries[0].event
    assert isinstance(opened, RebuildOpened)
    approved = store.specification_at(opened, entries[0].seq)
    return fold(entries, specification_from(approved.content))


def waiting_unit(store: ChainStore, unit_id: str) -> tuple[Rebuild, datetime] | None:
    """Return a unit that waits for its second reading, and from when on; ``None``: it does not."""
    unit = get_unit(store, unit_id)
    if unit is None or unit.state != "aside":
        return None
    entries = store.entries(unit_id=unit_id)
    last = next(e.event for e in reversed(entries) if isinstance(e.event, UnitSetAside | UnitWaits))
    if not isinstance(last, UnitWaits):
        return None
    return _folded(store, entries), datetime.fromisoformat(last.due_utc)


def _last(entries: list[Entry], kind: type[Event] | UnionType) -> tuple[Entry, str]:
    found = next(entry for entry in reversed(entries) if isinstance(entry.event, kind))
    return found, getattr(found.event, "reason", "")


def _by(entry: Entry, names: Mapping[str, str]) -> str:
    who = names.get(entry.person, entry.person)
    return f"{local_time(entry.utc)} by {who}"
