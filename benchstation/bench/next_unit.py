"""What is known of a unit before its work begins: from the queue, and from earlier rebuilds."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from benchstation.domain.inputs.line import Noted
from benchstation.domain.inputs.text import Written
from benchstation.domain.recorded_inputs import built_in_words, steps_of
from benchstation.domain.unit_record import UnitRecord
from benchstation.store.chain_store import ChainStore
from benchstation.store.queries import earlier_rebuilds, record_of


@dataclass(frozen=True, slots=True)
class Earlier:
    """The newest filed rebuild of a serial: what was found, and what went into it."""

    times: int
    utc: datetime
    family: str
    decision: str
    notes: tuple[tuple[str, str], ...]
    net_volume_m3: float | None
    settled_gauge_pa: float | None
    stacks: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class NextUnit:
    """The next unit as far as it is known; every text may be empty."""

    serial: str = ""
    specification_id: str = ""
    lot: str = ""
    order: str = ""
    position: str = ""
    line: str = ""
    earlier: Earlier | None = None

    def fields(self) -> dict[str, str]:
        """Return it as the fields of the form."""
        return {
            "serial": self.serial,
            "specification": self.specification_id,
            "lot": self.lot,
            "order": self.order,
            "position": self.position,
        }


def earlier_of(store: ChainStore, serial: str, but: str) -> Earlier | None:
    """Return newest filed rebuild of a serial other than ``but``; ``None`` when there is none."""
    filed = [
        unit
        for unit in earlier_rebuilds(store, serial)
        if unit.filed_utc is not None and unit.unit_id != but
    ]
    if not filed:
        return None
    last, record = filed[0], record_of(store, filed[0].unit_id)
    assert last.filed_utc is not None
    return Earlier(
        len(filed),
        last.filed_utc,
        last.family,
        last.decision,
        tuple(_notes(record)),
        record.oil.net_volume_ref_m3,
        record.charge.settled_gauge_pa,
        built_in_words(record),
    )


def _notes(record: UnitRecord) -> list[tuple[str, str]]:
    """Return what people wrote at the first step: the condition as found."""
    _, first = next(steps_of(record), ("", ()))
    return [(r.label, r.text) for r in first if isinstance(r, Noted | Written) and r.text]
