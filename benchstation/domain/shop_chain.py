"""What several benches and a desk say of the same things: adopted, in conflict, or settled. Pure.

A bench changes the shop's things without the network, on what it had taken of the shop's chain. Its
change is adopted where nothing about the same subject came between, else it is a conflict, and
what the shop had stays in force until a person settles it. What takes something away (a person who
left, a lot that is closed, a unit that is held) is in force from its arrival on, conflict or not.
Nothing is decided by which of two arrived last.
"""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from enum import StrEnum
from typing import Protocol

import rfc8785

from benchstation.domain.disposition import ABOUT_UNITS, FIRST, HELD, REJECTED, plain_word
from benchstation.domain.events import (
    Adopted,
    BadgeRegistered,
    BadgeSaltMade,
    Conflicted,
    CustomerTold,
    Event,
    InstrumentRegistered,
    LineMoved,
    MaterialClosed,
    MaterialReceived,
    OilLotClosed,
    OilLotReceived,
    OrderChanged,
    OrderedUnit,
    OrderPlaced,
    OrderUnitWithdrawn,
    PersonEnrolled,
    PersonLeft,
    RebuildAbandoned,
    RebuildOpened,
    ReleaseRuleSet,
    ReturnExamined,
    Settled,
    SpecificationApproved,
    SpecificationDrafted,
    UnitAmended,
    UnitDisposed,
    UnitFetched,
    UnitFiled,
    UnitReturned,
    UnitSetAside,
    UnitShipped,
    UnitWaits,
    event_from,
    stored_body,
)
from benchstation.domain.materials import WITHDRAWN, key_of, text_key
from benchstation.domain.orders import Line, Order, line_after
from benchstation.domain.unit_commands import NotAllowedError

SHOP = "shop"
"""Under this name the shop's own chain stands beside those of the benches."""


class Subject(StrEnum):
    """What a subject is: the part of its name before the colon."""

    PERSON = "person"
    SALT = "salt"
    SPECIFICATION = "specification"
    LOT = "lot"
    MATERIAL = "material"
    INSTRUMENT = "instrument"
    ORDER = "order"
    LINE = "line"
    UNIT = "unit"
    RULE = "rule"


RELEASE_RULE = f"{Subject.RULE}:release"
"""What is said of how many people release a unit."""


class Decision(StrEnum):
    """How a person settles a conflict."""

    SHOP = "shop"
    """What the shop has stays; the bench's version counts no more."""
    BENCH = "bench"
    """The bench's version is in force from now on."""
    BOTH = "both"
    """Both count, the bench's under another number or name."""


class ChainEntry(Protocol):
    """An entry of a chain, as the journal gives it."""

    @property
    def bench(self) -> str:
        """Whose chain it stands in."""

    @property
    def seq(self) -> int:
        """Its number there."""

    @property
    def hash(self) -> str:
        """Its hash."""

    @property
    def event(self) -> Event:
        """Return the event."""

    @property
    def person(self) -> str:
        """Id of the person."""

    @property
    def utc(self) -> datetime:
        """When."""


def subject_of(event: Event) -> str | None:
    """Return what an event is about, of what belongs to the whole shop; ``None``: the bench's own.

    How a person likes a bench, its settings, its checks and its work are the bench's own.
    """
    match event:
        case PersonEnrolled() | PersonLeft() | BadgeRegistered():
            return f"{Subject.PERSON}:{event.person_id}"
        case BadgeSaltMade():
            # Badges are looked for under every salt, so that two of them contradict nothing.
            return f"{Subject.SALT}:{event.salt}"
        case SpecificationDrafted() | SpecificationApproved():
            return f"{Subject.SPECIFICATION}:{event.specification_id}"
        case OilLotReceived() | OilLotClosed():
            return f"{Subject.LOT}:{text_key(event.lot)}"
        case MaterialReceived():
            return f"{Subject.MATERIAL}:{'/'.join(event.material.key)}"
        case MaterialClosed():
            return f"{Subject.MATERIAL}:{'/'.join(key_of(event.sort, event.number, event.lot))}"
        case InstrumentRegistered() if event.serial_number:
            # The benches' own names for their instruments are the same at each of them.
            return f"{Subject.INSTRUMENT}:{event.profile_id}/{text_key(event.serial_number)}"
        case OrderPlaced() | OrderChanged():
            return f"{Subject.ORDER}:{text_key(event.order)}"
        case OrderUnitWithdrawn() | LineMoved():
            return f"{Subject.LINE}:{event.line}"
        case RebuildOpened() if event.line:
            return f"{Subject.LINE}:{event.line}"
        case _ if isinstance(event, ABOUT_UNITS):
            return f"{Subject.UNIT}:{event.unit_id}"
        case ReleaseRuleSet():
            return RELEASE_RULE
        case _:
            return None


def takes_away(event: Event) -> bool:
    """Return True for what lets somebody or something be used no longer."""
    match event:
        case PersonLeft() | OilLotClosed() | MaterialClosed() | OrderUnitWithdrawn():
            return True
        case BadgeRegistered():
            return not event.badge_hash
        case UnitDisposed():
            return strictness(event) > 0
        case UnitAmended():
            # A judged figure that was wrong holds the unit.
            return bool(event.decision)
        case ReleaseRuleSet():
            return event.signatures > 1
        case _:
            return False


def strictness(event: Event) -> int:
    """Return how much of its kind an event takes away, to compare two about the same subject."""
    match event:
        case UnitDisposed():
            return _STRICTNESS.get(plain_word(event.disposition), _STRICTNESS[HELD])
        case ReleaseRuleSet():
            return event.signatures
        case OilLotClosed() | MaterialClosed():
            return 2 if event.why == WITHDRAWN else 1
        case _:
            return int(takes_away(event))


_STRICTNESS = {"released": 0, FIRST: 1, HELD: 2, REJECTED: 3}
HAPPENED = (UnitShipped, UnitReturned, ReturnExamined, CustomerTold)
"""What happened to a unit outside of all records: nothing that was said elsewhere undoes it."""
MOVES = (UnitSetAside, UnitWaits, UnitFetched, RebuildAbandoned, UnitFiled)


def kept_of(event: Event, line: str = "") -> Event | None:
    """Return what the shop's chain keeps of a bench's event; ``None``: nothing.

    ``line`` is the unit of an order that the event's unit was opened as, empty where it was none.
    """
    if isinstance(event, MOVES):
        if not line:
            return None
        moved = line_after(Line("", line, "", "", "", unit_id=event.unit_id), event)
        return LineMoved(line, event.unit_id, moved.state.value, moved.reason)
    return event if subject_of(event) is not None else None


def event_in(event: Event) -> Event:
    """Return the bench's event that an entry of the shop's chain carries, or the entry's own."""
    if isinstance(event, Adopted | Conflicted):
        return event_from(event.what, event.content)
    return event


def same_content(one: Event, other: Event) -> bool:
    """Return True when two events say the same of the same thing.

    Of what takes something away the effect is compared: each reason stays on record.
    """
    if isinstance(one, SpecificationApproved) and isinstance(other, SpecificationApproved):
        return (one.specification_id, one.revision, one.content_sha256) == (
            other.specification_id,
            other.revision,
            other.content_sha256,
        )
    if type(one) is not type(other):
        return False
    if takes_away(one) and takes_away(other):
        return strictness(one) == strictness(other)
    return stored_body(one) == stored_body(other)


def adopt(
    entry: ChainEntry, kept: Event, taken: int, shop: Iterable[ChainEntry]
) -> Adopted | Conflicted:
    """Judge a bench's entry: adopted, or in conflict with what the shop has.

    ``kept`` is what :func:`kept_of` gave of it, ``taken`` the entry of the shop's chain that the
    bench had taken last before it wrote this one, and ``shop`` the shop's entries since, at least.
    """
    subject = subject_of(kept)
    assert subject is not None
    where = (entry.bench, entry.seq, entry.hash, entry.person, _stamp(entry.utc))
    what = (kept.kind, stored_body(kept))
    between = _between(kept, subject, entry.bench, [e for e in shop if e.seq > taken])
    if between is None or isinstance(kept, (LineMoved, *HAPPENED)):
        return Adopted(*where, *what)
    return Conflicted(*where, *what, subject, taken, between)


def _between(kept: Event, subject: str, bench: str, later: Sequence[ChainEntry]) -> int | None:
    """Return the last entry about a subject that a bench did not know; ``None``: there is none."""
    found = None
    for entry in later:
        event = entry.event
        if isinstance(event, Settled):
            found = entry.seq if event.subject == subject else found
            continue
        inner = event_in(event)
        if subject_of(inner) != subject or not _rivals(kept, inner):
            continue
        if isinstance(event, Adopted | Conflicted) and event.bench == bench:
            # Where a change of its own was adopted, the bench and the shop were of one mind.
            found = None if isinstance(event, Adopted) else found
        elif (takes_away(inner) or not isinstance(event, Conflicted)) and not same_content(
            inner, kept
        ):
            found = entry.seq
    return found


def _rivals(kept: Event, inner: Event) -> bool:
    """Return True when what came between may contradict a change of the same subject.

    QA judges a record with its amendments, so each of them weighs on a word of QA; a word weighs
    on no amendment, nor does one of another field.
    """
    if isinstance(inner, (LineMoved, *HAPPENED)):
        return False
    if isinstance(kept, UnitAmended):
        return isinstance(inner, UnitAmended) and inner.field == kept.field
    return True


def _stamp(utc: datetime) -> str:
    return utc.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


# --- what holds ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ShopFact:
    """A fact that is in force, who said it when, and the bench it comes from (or the shop's desk).

    ``seq`` is its entry in the shop's chain; 0: the shop has not decided it yet. ``own`` is its
    entry in the bench's chain, 0 where it comes from the desk.
    """

    event: Event
    person: str
    utc: datetime
    bench: str
    seq: int
    own: int = 0


@dataclass(frozen=True, slots=True)
class Conflict:
    """A conflict that nobody has settled: the bench's version, and which entry stands against."""

    seq: int
    subject: str
    fact: ShopFact
    since: int
    in_force: int

    @property
    def counts(self) -> bool:
        """Return True when the bench's version is in force although it is not settled."""
        return takes_away(self.fact.event)


@dataclass(slots=True)
class ShopFold:
    """What the shop's chain says, up to the entry that was taken in last."""

    facts: list[ShopFact] = field(default_factory=list)
    """What was decided, in the order in which it came to hold."""
    open: dict[int, Conflict] = field(default_factory=dict)
    """Conflicts that wait for a person, by their entry in the shop's chain."""
    decided: dict[tuple[str, int], int] = field(default_factory=dict)
    """The shop's entry that adopts a bench's entry, or says that it is in conflict."""
    _of_units: dict[str, list[ShopFact]] = field(default_factory=dict)
    _of_lines: dict[str, list[ShopFact]] = field(default_factory=dict)

    def take(self, entry: ChainEntry) -> None:
        """Take one more entry of the shop's chain in."""
        event = entry.event
        match event:
            case Adopted():
                self.decided[event.bench, event.seq] = entry.seq
                self._hold(_fact_of(event, entry.seq))
            case Conflicted():
                self.decided[event.bench, event.seq] = entry.seq
                fact = _fact_of(event, entry.seq)
                self.open[entry.seq] = Conflict(
                    entry.seq, event.subject, fact, event.since, event.in_force
                )
            case Settled():
                self._settle(event, entry.seq)
            case _ if subject_of(event) is not None:
                self._hold(fact_in(entry))

    def _hold(self, fact: ShopFact) -> None:
        self.facts.append(fact)
        event = fact.event
        if isinstance(event, (LineMoved, *ABOUT_UNITS)):
            self._of_units.setdefault(event.unit_id, []).append(fact)
        elif isinstance(event, OrderUnitWithdrawn):
            self._of_lines.setdefault(event.line, []).append(fact)
        elif isinstance(event, RebuildOpened):
            self._of_lines.setdefault(event.line, []).append(fact)
            # What became of this unit may have been said while the line was another's.
            self.facts += self._of_units.get(event.unit_id, [])
        elif isinstance(event, OrderPlaced | OrderChanged):
            self._hold_lines(event)

    def _hold_lines(self, event: OrderPlaced | OrderChanged) -> None:
        """Append again what became of lines that were worked before they were in force."""
        for fact in (fact for line in event.lines for fact in self._of_lines.get(line.line, [])):
            self.facts.append(fact)
            if isinstance(fact.event, RebuildOpened):
                self.facts += self._of_units.get(fact.event.unit_id, [])

    def _settle(self, settled: Settled, seq: int) -> None:
        conflict = self.open.pop(settled.conflict, None)
        if conflict is not None and settled.decision == Decision.BENCH:
            self._hold(replace(conflict.fact, seq=seq))

    def in_force(self, own: Iterable[ChainEntry] = ()) -> list[ShopFact]:
        """Return what holds: what was decided, then what a bench said that is not decided yet.

        ``own`` are the bench's entries. What takes away and waits to be settled comes last, where
        nothing stricter holds already.
        """
        waiting = [
            ShopFact(entry.event, entry.person, entry.utc, entry.bench, 0, entry.seq)
            for entry in own
            if (entry.bench, entry.seq) not in self.decided
        ]
        found = [*self.facts, *waiting]
        for conflict in self.open.values():
            if conflict.counts and not _stricter(found, conflict):
                found.append(conflict.fact)
        return found


def fact_in(entry: ChainEntry) -> ShopFact:
    """Return what an entry of the shop's chain says, and who said it where."""
    if isinstance(entry.event, Adopted | Conflicted):
        return _fact_of(entry.event, entry.seq)
    return ShopFact(entry.event, entry.person, entry.utc, SHOP, entry.seq)


def fold(entries: Iterable[ChainEntry]) -> ShopFold:
    """Return what entries of the shop's chain say, in their order."""
    found = ShopFold()
    for entry in entries:
        found.take(entry)
    return found


def _stricter(facts: Sequence[ShopFact], conflict: Conflict) -> bool:
    """Return True when the last word of this kind about the subject takes away more."""
    event = conflict.fact.event
    for fact in reversed(facts):
        if type(fact.event) is type(event) and subject_of(fact.event) == conflict.subject:
            return strictness(fact.event) > strictness(event)
    return False


def _fact_of(event: Adopted | Conflicted, seq: int) -> ShopFact:
    utc = datetime.fromisoformat(event.utc)
    return ShopFact(event_in(event), event.person, utc, event.bench, seq, event.seq)


# --- settling ------------------------------------------------------------------------------------


def renamed(event: Event, other: str, order: Order | None = None) -> tuple[Event, ...]:
    """Return a bench's version under another number or name; empty where there is none for it.

    ``order`` is the order as it is, for a unit that gets a line of its own in it.
    """
    match event:
        case PersonEnrolled():
            return (replace(event, person_id=other),)
        case OilLotReceived():
            return (replace(event, lot=other),)
        case MaterialReceived():
            return (replace(event, material=replace(event.material, lot=other)),)
        case OrderPlaced():
            return (replace(event, order=other),)
        case SpecificationApproved() if other.isdecimal():
            content = {**event.content, "revision": int(other)}
            sha256 = hashlib.sha256(rfc8785.dumps(content)).hexdigest()
            # The text that it was written as names the other revision.
            return (
                replace(
                    event, revision=int(other), content=content, content_sha256=sha256, source=""
                ),
            )
        case RebuildOpened() if order is not None:
            line = OrderedUnit(other, event.serial, event.specification_id, event.position)
            came = OrderChanged(
                order.order, order.due, order.note, order.matched, "a second unit counts", (line,)
            )
            return came, replace(event, line=other)
        case _:
            return ()


def decisions_for(event: Event) -> tuple[Decision, ...]:
    """Return how a conflict may be settled in which a bench said this."""
    match event:
        case SpecificationApproved() | OrderPlaced():
            # A revision on record is never edited, and an order that is put in another's place
            # would take that one's units with it.
            return Decision.SHOP, Decision.BOTH
        case PersonEnrolled() | OilLotReceived() | MaterialReceived() | RebuildOpened():
            return Decision.SHOP, Decision.BENCH, Decision.BOTH
        case _:
            return Decision.SHOP, Decision.BENCH


class Typed(StrEnum):
    """What a person types of a bench's version that is kept beside the shop's."""

    NOTHING = "nothing"
    """The number follows from what is on record."""
    LOT = "lot"
    ORDER = "order"


def typed_for(event: Event) -> Typed:
    """Return what must be typed to keep a bench's version beside the shop's."""
    match event:
        case OilLotReceived() | MaterialReceived():
            return Typed.LOT
        case OrderPlaced():
            return Typed.ORDER
        case _:
            return Typed.NOTHING


def settle(
    conflict: Conflict, decision: Decision, reason: str, other: str, order: Order | None = None
) -> tuple[Event, ...]:
    """Return the facts that settle a conflict. Raises :class:`NotAllowedError`."""
    event = conflict.fact.event
    if not reason.strip():
        raise _refused("settling needs a reason.", "Say why in a few words.")
    if decision not in decisions_for(event):
        raise _refused("this cannot be settled so.", "Choose one of those shown.")
    other = other.strip() if decision is Decision.BOTH else ""
    kept = renamed(event, other, order) if other else ()
    if decision is Decision.BOTH and not kept:
        raise _refused("the other number is missing or is none.", "Type it as it will be read.")
    return Settled(conflict.seq, conflict.subject, decision.value, reason.strip(), other), *kept


def _refused(what: str, advice: str) -> NotAllowedError:
    return NotAllowedError(what, where="To settle", advice=advice)
