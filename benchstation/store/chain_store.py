"""What a bench's file and the database of a shop have in common: a chain, and what is read."""

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import Connection, Table

from benchstation.domain.events import (
    Event,
    InstrumentRegistered,
    OilLotReceived,
    PersonEnrolled,
    RebuildOpened,
    SpecificationApproved,
    SpecificationDrafted,
)
from benchstation.domain.shop_chain import Conflict, ShopFact, Subject
from benchstation.store import append_rules, journal, photo_rows, schema, shop_facts, trace_rows
from benchstation.store.entry_proof import EntryProof, proof_of
from benchstation.store.errors import NotOnRecordError
from benchstation.store.journal import Entry
from benchstation.store.shop_fact_rows import NO_END
from benchstation.store.traces import Trace, decode
from benchstation.store.trust import Trust, key_facts
from benchstation.store.verification import Cancelled, Progress, Verification

_E = TypeVar("_E", bound=Event)


class ChainStore(ABC):
    """Records that are read as one. Every call reads one snapshot, from any thread."""

    bench: str
    """Whose chain grows here: a bench, or the shop."""
    trust: Trust | None = None
    """The key of this computer, and what it knows; ``None``: nothing is signed here."""
    shop_seq: int = 0
    """Up to which entry of the shop's chain a bench knows it; 0: none."""

    @property
    @abstractmethod
    def where(self) -> str:
        """Return the place of the records, as it may be shown."""

    @property
    @abstractmethod
    def beside(self) -> Path:
        """Return the place on this computer beside which it keeps what waits to be written."""

    @abstractmethod
    def verify(
        self, progress: Progress | None = None, cancelled: Cancelled | None = None
    ) -> Verification:
        """Check everything that is on record. Slow."""

    def open_unit(self) -> str | None:
        """Return the id of the unit that stands here; ``None``: there is none."""
        with self.reading() as connection:
            return append_rules.open_unit(connection, self.bench)

    @abstractmethod
    def reading(self) -> AbstractContextManager[Connection]:
        """Return a connection that sees one snapshot; for this package. From any thread."""

    @abstractmethod
    def append(
        self,
        events: Sequence[Event],
        *,
        person: str,
        utc: datetime,
        traces: Sequence[Trace] = (),
        photos: Mapping[str, bytes] | None = None,
    ) -> list[Entry]:
        """Append events with the content they refer to, all or nothing, durable on return."""

    def head(self) -> tuple[int, str]:
        """Return sequence and hash of the last entry; 0 and 64 zeros when there is none."""
        with self.reading() as connection:
            return journal.head(connection, self.bench)

    def last_utc(self) -> datetime | None:
        """Return the time of the last entry; ``None`` when there is no entry."""
        with self.reading() as connection:
            return journal.last_utc(connection, self.bench)

    def entries(self, *, unit_id: str | None = None, kind: str | None = None) -> list[Entry]:
        """Return entries in their order, of one unit or kind if asked."""
        with self.reading() as connection:
            return journal.read(connection, self.bench, unit_id=unit_id, kind=kind)

    def entry_at(self, seq: int) -> Entry | None:
        """Return an entry of the own chain; ``None``: it has no such entry."""
        with self.reading() as connection:
            return journal.entry_at(connection, self.bench, seq)

    @property
    def chains(self) -> Sequence[str]:
        """Return the names of the chains that are read here."""
        return (self.bench,)

    def unit_of_entry(self, seq: int, own: str) -> str | None:
        """Return the unit of the entry of this number and hash; ``None``: there is none."""
        chains = self.chains
        with self.reading() as connection:
            return journal.unit_with(connection, chains, seq, own)

    def entries_between(self, after: int, to: int) -> list[Entry]:
        """Return the entries of the own chain after one and up to another, in their order."""
        with self.reading() as connection:
            return journal.between(connection, self.bench, after, to)

    def altered_entry(self, bench: str, unit_id: str) -> Entry | None:
        """Return the first entry of a unit in a chain whose hash is not that of its content."""
        with self.reading() as connection:
            return journal.altered(connection, bench, unit_id)

    def body_at(self, bench: str, seq: int) -> Mapping[str, Any]:
        """Return the body of an entry as it was stored, in the form of that day."""
        with self.reading() as connection:
            return journal.body_at(connection, bench, seq)

    def keys_on_record(self, bench: str) -> Sequence[str]:
        """Return the public keys that a chain names as its own, in their order."""
        with self.reading() as connection:
            return key_facts(connection, bench)

    def proof(self, entry: Entry) -> EntryProof | None:
        """Return the proof that an entry stands here; ``None`` where no head was signed since."""
        with self.reading() as connection:
            return proof_of(connection, entry.bench, entry.seq)

    def get_trace(self, sha256: str) -> Trace:
        """Return a trace. Raises :class:`NotOnRecordError`, :class:`StoreCorruptError`."""
        with self.reading() as connection:
            data = trace_rows.read(connection, sha256, self.where)
        return decode(data, sha256)

    def get_photo(self, sha256: str) -> bytes:
        """Return a photograph. Raises :class:`NotOnRecordError`, :class:`StoreCorruptError`."""
        with self.reading() as connection:
            return photo_rows.read(connection, sha256, self.where)

    def facts(self, *sorts: Subject, before: int = NO_END) -> Sequence[ShopFact]:
        """Return what holds here of these sorts of the shop's things, in its order.

        ``before``: as it was when this bench wrote this entry of its own.
        """
        with self.reading() as connection:
            if before != NO_END:
                return shop_facts.facts_of(connection, self.bench, sorts, before)
            stands = shop_facts.stands_at(connection, self.bench, sorts)
            known = self._known_facts.get(sorts)
            if known is None or known[0] != stands:
                found = tuple(shop_facts.facts_of(connection, self.bench, sorts))
                known = self._known_facts[sorts] = stands, found
        return known[1]

    @cached_property
    def _known_facts(self) -> dict[tuple[Subject, ...], tuple[object, tuple[ShopFact, ...]]]:
        """Return what was read last of some sorts, and where the chains stood then."""
        return {}

    def facts_about(self, subject: str, before: int = NO_END) -> Sequence[ShopFact]:
        """Return what holds of one of the shop's things, in its order.

        ``before``: as it was when this bench wrote this entry of its own.
        """
        with self.reading() as connection:
            return shop_facts.facts_about(connection, self.bench, subject, before)

    def conflicts(self) -> list[Conflict]:
        """Return what waits for a person to settle it, as far as it is known here."""
        with self.reading() as connection:
            return shop_facts.conflicts_of(connection, self.bench)

    def shop_entry(self, seq: int) -> Entry | None:
        """Return an entry of the shop's chain; ``None``: it is not here."""
        with self.reading() as connection:
            return shop_facts.said_in_shop(connection, seq)

    def named_since(self, seq: int) -> set[str]:
        """Return the sorts of things that entries of the shop after this one are about."""
        with self.reading() as connection:
            return shop_facts.sorts_since(connection, seq)

    def people(self) -> dict[str, PersonEnrolled]:
        """Return everyone enrolled, the newest enrolment of each."""
        found = (fact.event for fact in self.facts(Subject.PERSON))
        return {e.person_id: e for e in found if isinstance(e, PersonEnrolled)}

    def lots(self) -> dict[str, OilLotReceived]:
        """Return all oil lots."""
        found = (fact.event for fact in self.facts(Subject.LOT))
        return {e.lot: e for e in found if isinstance(e, OilLotReceived)}

    def specifications(self) -> dict[tuple[str, int], SpecificationApproved]:
        """Return all revisions of all specifications."""
        found = (fact.event for fact in self.facts(Subject.SPECIFICATION))
        approved = (event for event in found if isinstance(event, SpecificationApproved))
        return {(event.specification_id, event.revision): event for event in approved}

    def specification_at(self, opened: RebuildOpened, seq: int) -> SpecificationApproved:
        """Return the specification of a unit as it was known when it was opened by this entry."""
        for fact in reversed(self.facts(Subject.SPECIFICATION, before=seq)):
            event = fact.event
            if isinstance(event, SpecificationApproved) and (
                (event.specification_id, event.revision)
                == (opened.specification_id, opened.revision)
            ):
                return event
        raise NotOnRecordError(
            f"revision {opened.revision} of {opened.specification_id} is not on record.",
            where=self.where,
            advice="Verify the journal; nothing was changed.",
        )

    def drafts(self) -> dict[tuple[str, int], ShopFact]:
        """Return the last draft of each revision, approved since or not."""
        found = {}
        for fact in self.facts(Subject.SPECIFICATION):
            if isinstance(fact.event, SpecificationDrafted):
                found[fact.event.specification_id, fact.event.revision] = fact
        return found

    def instruments(self) -> dict[str, InstrumentRegistered]:
        """Return all instruments, the newest registration of each."""
        return {e.instrument_id: e for e in self._newest(schema.instrument, InstrumentRegistered)}

    def _newest(self, table: Table, kind: type[_E]) -> list[_E]:
        with self.reading() as connection:
            return journal.newest(connection, self.bench, table, kind)
