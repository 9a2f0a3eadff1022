"""The unit on the bench: facts are appended durably, then folded into its state and the shop's."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from benchstation.bench.next_unit import NextUnit, earlier_of
from benchstation.bench.shop import Shop
from benchstation.domain.events import Event, OilLotReceived, RebuildOpened
from benchstation.domain.rebuild import Rebuild, apply, fold
from benchstation.domain.shop_chain import Subject
from benchstation.domain.specification import specification_from
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.store.chain_store import ChainStore
from benchstation.store.journal import Entry
from benchstation.store.traces import Trace


@dataclass(slots=True)
class UnitOnBench:
    """One unit at a time, or none, and what is known of it or of the next one."""

    shop: Shop
    store: ChainStore
    rebuild: Rebuild | None = None
    next_unit: NextUnit = field(default_factory=NextUnit)
    """What is known of the next unit, or of the one that stands here."""
    written: int = 0
    """Grows with what is put on record here, so that whoever shows it sees that it is older."""

    def journal(
        self,
        events: Sequence[Event],
        person: str,
        utc: datetime,
        traces: Sequence[Trace] = (),
        photos: Mapping[str, bytes] | None = None,
    ) -> Sequence[Entry]:
        """Append durably, then fold, and return the entries: nothing is shown that is not there."""
        if not events:
            return ()
        entries = self.store.append(events, person=person, utc=utc, traces=traces, photos=photos)
        self.written += len(entries)
        for entry in entries:
            self.shop.take(entry.event)
            unit = getattr(entry.event, "unit_id", "")
            if self.rebuild is not None and unit == self.rebuild.unit_id:
                self.rebuild = apply(self.rebuild, entry)
        return entries

    def folded(self, unit_id: str) -> Rebuild:
        """Return a unit's state from its journal."""
        entries = self.store.entries(unit_id=unit_id)
        opened = entries[0].event if entries else None
        if not isinstance(opened, RebuildOpened):
            raise StationError(
                "the unit's journal does not begin with its opening.",
                where="journal",
                advice="Verify the journal; nothing was changed.",
            )
        if not self.store.shop_seq:
            specification = self.shop.specifications[opened.specification_id, opened.revision]
            return fold(entries, specification)
        # Another may be in force by now: the unit keeps what it was begun with.
        approved = self.store.specification_at(opened, entries[0].seq)
        return fold(entries, specification_from(approved.content))

    def take(self, rebuild: Rebuild | None) -> None:
        """Put a unit on the bench, or none, with what is known of its serial from before."""
        self.rebuild = rebuild
        self.written += 1
        self.next_unit = NextUnit()
        self.shop.keep_lots(self._lots_known(rebuild))
        if rebuild is not None:
            serial = rebuild.opened.serial
            self.next_unit = NextUnit(
                serial, earlier=earlier_of(self.store, serial, rebuild.unit_id)
            )

    def _lots_known(self, rebuild: Rebuild | None) -> dict[str, OilLotReceived]:
        """Return the lots in a unit as each was known when it was first named there."""
        if rebuild is None or not self.store.shop_seq:
            return {}
        found: dict[str, OilLotReceived] = {}
        for entry in self.store.entries(unit_id=rebuild.unit_id):
            lot = getattr(entry.event, "oil_lot", "")
            if lot and lot not in found:
                known = self.store.facts(Subject.LOT, before=entry.seq)
                events = (fact.event for fact in known)
                found |= {
                    e.lot: e for e in events if isinstance(e, OilLotReceived) and e.lot == lot
                }
        return found

    def expect(self, next_unit: NextUnit) -> None:
        """Take what is known of the next unit."""
        self.next_unit = next_unit

    def unit(self) -> Rebuild:
        """Return the unit that is worked on; raises when there is none."""
        if self.rebuild is None or self.rebuild.ended:
            raise NotAllowedError("no unit is on the bench.", advice="Open one first.")
        return self.rebuild

    def unit_id(self) -> str:
        """Return the unit on the bench that an alarm belongs to, or empty."""
        return self.rebuild.unit_id if self.rebuild and not self.rebuild.ended else ""
