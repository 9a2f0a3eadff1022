"""Why a unit has no record, in words: it is on the bench, lies aside, or was abandoned."""

from collections.abc import Mapping

from benchstation.domain.events import RebuildAbandoned, RebuildOpened, UnitSetAside
from benchstation.quantities.formatter import local_time
from benchstation.store.engine import Store
from benchstation.store.journal import Entry
from benchstation.store.queries import UnitRow

WHEN_FILED = "Its record is written once, at the last step of its route."
KEPT = (
    "A record is only written of a unit that is finished. All that was done until then stays in "
    "the journal, and the check of the journal covers it."
)


def no_record(store: Store, unit: UnitRow, names: Mapping[str, str]) -> str:
    """Return why a unit that is not filed has no record, since when, by whom, and what is kept."""
    entries = store.entries(unit_id=unit.unit_id)
    if unit.state == "abandoned":
        last, reason = _last(entries, RebuildAbandoned)
        return f"No record: abandoned {_by(last, names)}.\n\nReason: {reason}\n\n{KEPT}"
    if unit.state == "aside":
        last, reason = _last(entries, UnitSetAside)
        return f"No record yet: set aside {_by(last, names)}.\n\nReason: {reason}\n\n{WHEN_FILED}"
    opened, _ = _last(entries, RebuildOpened)
    return f"No record yet: it is on the bench, begun {_by(opened, names)}.\n\n{WHEN_FILED}"


def _last(
    entries: list[Entry], kind: type[RebuildAbandoned | UnitSetAside | RebuildOpened]
) -> tuple[Entry, str]:
    found = next(entry for entry in reversed(entries) if isinstance(entry.event, kind))
    return found, getattr(found.event, "reason", "")


def _by(entry: Entry, names: Mapping[str, str]) -> str:
    who = names.get(entry.person, entry.person)
    return f"{local_time(entry.utc)} by {who}"
