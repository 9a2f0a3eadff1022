"""One unit's rebuild: its state is the fold of its events, and nothing else."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Protocol

from benchstation.domain.events import (
    AlarmChanged,
    AlarmEpisodeRecorded,
    BodyMeasured,
    CalibrationChanged,
    ChargeCaptured,
    DeviationSigned,
    Event,
    GasFell,
    GasFound,
    GasRose,
    GaugeZero,
    HandedOver,
    HandOverRead,
    HoldTested,
    InRoomSince,
    LineFell,
    LotChosen,
    LotConfirmed,
    MassCaptured,
    MethodChosen,
    OilJudged,
    OilUnweighed,
    PhotoSetAside,
    PhotoTaken,
    PressureReadAgain,
    RebuildAbandoned,
    RebuildOpened,
    ScaleChosen,
    SecondReadingJudged,
    StepReopened,
    StepSigned,
    TareLost,
    TareProven,
    UnitFetched,
    UnitFiled,
    UnitResumed,
    UnitSetAside,
    UnitWaits,
    UnitWeighed,
    ZeroProven,
)
from benchstation.domain.inputs.choice import Chosen, Hold
from benchstation.domain.inputs.registry import Evidence
from benchstation.domain.inputs.zero import by_word_alone
from benchstation.domain.oil_balance import Purpose, counting, net_shown_kg
from benchstation.domain.specification import Method, Specification, Step, StepKind
from benchstation.domain.statements import Code, Gas, Statement, Undone
from benchstation.domain.tared_loads import (
    TaredLoad,
    loads_left,
    on_scale,
    taken_back,
    with_capture,
    with_tray,
)

HIGH_LIMIT = "high limit"


class Fact(Protocol):
    """An event with who and when, as the journal gives it."""

    @property
    def event(self) -> Event:
        """Return the event."""

    @property
    def person(self) -> str:
        """Id of the person."""

    @property
    def utc(self) -> datetime:
        """When."""


@dataclass(frozen=True, slots=True)
class Signature:
    """A signed step."""

    person: str
    utc: datetime
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Captured:
    """A captured mass and when."""

    event: MassCaptured
    utc: datetime


@dataclass(frozen=True, slots=True)
class BodyReading:
    """The unit's temperature as it was measured, by whom and when."""

    event: BodyMeasured
    person: str
    utc: datetime


@dataclass(frozen=True, slots=True)
class Stay:
    """Since when the unit is said to be in this room, by whom and when that was said."""

    since: datetime
    bound_k: float
    person: str
    utc: datetime


@dataclass(frozen=True, slots=True)
class Deviation:
    """A signed deviation."""

    step_id: str
    subject: Statement
    reason: str
    person: str
    utc: datetime


@dataclass(frozen=True, slots=True)
class Reopened:
    """A step gone back to, by whom and when."""

    step_id: str
    reason: str
    person: str
    utc: datetime


@dataclass(frozen=True, slots=True)
class HandOver:
    """A unit left by one person to another; ``read_by`` is empty until somebody has read it."""

    step_id: str
    note: str
    person: str
    utc: datetime
    read_by: str = ""
    read_utc: datetime | None = None


@dataclass(frozen=True, slots=True)
class Aside:
    """A time that the unit lay aside; ``fetched_utc`` is ``None`` while it does.

    ``until`` is from when on its second reading was due, for one that waited for it; else empty.
    """

    step_id: str
    reason: str
    gas: Gas
    person: str
    utc: datetime
    fetched_by: str = ""
    fetched_utc: datetime | None = None
    until: str = ""


@dataclass(frozen=True, slots=True)
class Recalibrated:
    """A change of an instrument's calibration while the unit was on the bench."""

    event: CalibrationChanged
    person: str
    utc: datetime


@dataclass(frozen=True, slots=True)
class Emptied:
    """A person's word before a tare that oil which no mass held was undone."""

    step_id: str
    statements: tuple[Undone, ...]
    reasons: tuple[Statement, ...]
    person: str
    utc: datetime


@dataclass(frozen=True, slots=True)
class Attempt:
    """A judged result, whether it stood or not; ``value`` is SI: kg, gauge Pa or Pa m3/s."""

    step_id: str
    what: str
    value: float
    decision: str
    utc: datetime


@dataclass(frozen=True, slots=True)
class Rebuild:
    """Where one unit stands. Frozen: a new fact gives a new state."""

    opened: RebuildOpened
    opened_by: str
    opened_utc: datetime
    specification: Specification
    signatures: Mapping[str, Signature]
    tare: TareProven | None = None
    captures: tuple[Captured, ...] = ()
    loads: tuple[TaredLoad, ...] = ()
    """What was tared away on each scale since the work on the oil began."""
    oil: Mapping[str, OilJudged] | None = None
    charge: ChargeCaptured | None = None
    hold: HoldTested | None = None
    deviations: tuple[Deviation, ...] = ()
    alarms: Mapping[str, AlarmChanged] | None = None
    episodes: tuple[AlarmEpisodeRecorded, ...] = ()
    reopened: tuple[Reopened, ...] = ()
    attempts: tuple[Attempt, ...] = ()
    """Every judgement in its order; nothing that was measured goes unseen."""
    photos: tuple[PhotoTaken, ...] = ()
    """Of the steps that stand, without those set aside."""
    method_chosen: Method | None = None
    lot_chosen: str = ""
    lots_confirmed: tuple[str, ...] = ()
    """Lots read off the can that was poured from."""
    scales: Mapping[str, ScaleChosen] | None = None
    """The scale chosen last at each step, where the bench has several."""
    uncaptured: TareLost | None = None
    """The lost tare over which oil was moved that is in no record, until that is put right."""
    hand_overs: tuple[HandOver, ...] = ()
    asides: tuple[Aside, ...] = ()
    recalibrated: tuple[Recalibrated, ...] = ()
    gas_unproven: bool = False
    """It lay aside, or was charged: that its gas is out must be proven anew."""
    gas_found: GasFound | None = None
    """The gas that the unit came with, or was charged with, as the gauge saw it."""
    gas_fell: GasFell | None = None
    unit_before: UnitWeighed | None = None
    unit_after: UnitWeighed | None = None
    """The whole unit on the scale, before the charge and after the seal-off."""
    charge_utc: datetime | None = None
    unit_after_utc: datetime | None = None
    unit_second: UnitWeighed | None = None
    unit_second_utc: datetime | None = None
    read_again: PressureReadAgain | None = None
    read_again_utc: datetime | None = None
    """The sealed unit after it waited, by its mass and by its pressure."""
    second: SecondReadingJudged | None = None
    zero_before: GaugeZero | None = None
    """The gauge's zero just before the charge."""
    gas_rose: GasRose | None = None
    """The gauge was seen to rise as gas was let in."""
    line_fell: LineFell | None = None
    """The gauge was seen to fall from the charge to zero as the line was vented."""
    body_measured: BodyReading | None = None
    """The unit's temperature as last measured here."""
    in_room: Stay | None = None
    unweighed: tuple[OilUnweighed, ...] = ()
    """Oil that may have been moved and is in no mass; nobody has said yet that it is undone."""
    emptied: tuple[Emptied, ...] = ()
    restarts: tuple[tuple[str, datetime], ...] = ()
    """At which step and when the program was started again."""
    ended: str = ""
    """Empty, ``filed`` or ``abandoned``."""

    @property
    def unit_id(self) -> str:
        """Return the unit's id."""
        return self.opened.unit_id

    @property
    def current(self) -> Step | None:
        """Return the first step without a signature; ``None`` when the unit is ended."""
        if self.ended:
            return None
        for step in self.specification.steps:
            if step.id not in self.signatures:
                return step
        return None

    def capture(self, purpose: str) -> Captured | None:
        """Return the mass of that purpose that counts: the last one captured."""
        return next((c for c in reversed(self.captures) if c.event.purpose == purpose), None)

    @property
    def counting(self) -> tuple[MassCaptured, ...]:
        """Return the captured masses that make up the oil in the unit."""
        return counting([c.event for c in self.captures])

    @property
    def net_shown_kg(self) -> float | None:
        """Net oil as shown; ``None`` before a mass was captured."""
        return net_shown_kg(self.counting) if self.counting else None

    @property
    def method(self) -> Method:
        """Return how oil is weighed in: as the specification says, or as was chosen here."""
        return self.method_chosen or self.specification.oil.method

    @property
    def oil_lot(self) -> str:
        """Return the lot that oil is poured from now."""
        return self.lot_chosen or self.opened.oil_lot

    def oil_judged(self, kind: StepKind) -> OilJudged | None:
        """Return the judgement made at the weigh or the bleed step."""
        return (self.oil or {}).get(self.specification.step_of(kind).id)

    def photos_of(self, step_id: str) -> tuple[PhotoTaken, ...]:
        """Return the photographs that stand for a step."""
        return tuple(p for p in self.photos if p.step_id == step_id)

    def deviated(self, step_id: str) -> bool:
        """Return True when a deviation was signed for a step that still stands."""
        return any(d.step_id == step_id for d in self.deviations)

    @property
    def unread(self) -> HandOver | None:
        """Return the note of the last hand-over while nobody has read it."""
        last = self.hand_overs[-1] if self.hand_overs else None
        return None if last is None or last.read_by or self.ended else last

    @property
    def proof_due(self) -> bool:
        """Return True when the gas must be proven out anew before the work at this step goes on.

        That is between the release and the charge, after the unit lay aside.
        """
        step = self.current
        if step is None or not self.gas_unproven:
            return False
        steps, of = self.specification.steps, self.specification.step_of
        place = steps.index(step)
        return steps.index(of(StepKind.RELEASE)) < place < steps.index(of(StepKind.CHARGE))

    @property
    def hold_reasons(self) -> tuple[Statement, ...]:
        """Why QA must look at this unit before it is released; empty: nothing."""
        reasons = [
            Statement(Code.DEVIATION, {"of": d.subject.code.value, **d.subject.values})
            for d in self.deviations
        ]
        alarms = (self.alarms or {}).values()
        if any(a.alarm == HIGH_LIMIT for a in alarms):
            reasons.append(Statement(Code.HIGH_LIMIT))
        signed = self.signatures.values()
        chosen = [r for s in signed for r in s.evidence if isinstance(r, Chosen)]
        reasons += [
            Statement.of(Code.CHOSEN, label=c.label, text=c.text)
            for c in chosen
            if c.hold is Hold.QA
        ]
        if any(c.by_hand for c in self.counting):
            reasons.append(Statement(Code.OIL_BY_HAND))
        if self.charge is not None and self.charge.by_hand:
            reasons.append(Statement(Code.CHARGE_BY_HAND))
        if any(by_word_alone(r) for s in signed for r in s.evidence):
            reasons.append(Statement(Code.LINE_BY_WORD))
        if self.unweighed:
            reasons.append(Statement(Code.UNWEIGHED_OIL))
        return tuple(reasons)


def _without(state: Rebuild, step_id: str) -> Rebuild:
    steps = [s.id for s in state.specification.steps]
    gone = set(steps[steps.index(step_id) :])
    charge_gone = state.specification.step_of(StepKind.CHARGE).id in gone
    seal = state.specification.seal_off
    seal_gone = seal is not None and seal.id in gone
    weigh = state.specification.step_of(StepKind.WEIGH).id
    parts_gone = weigh in gone and step_id != weigh
    closed = state.specification.step_of(StepKind.BLEED).id in state.signatures
    return replace(
        state,
        signatures={k: v for k, v in state.signatures.items() if k not in gone},
        tare=None,
        loads=loads_left(state.loads, state.specification, step_id, gone),
        # Not closed yet, the unit weighed once more still compares with what it was before.
        captures=tuple(
            c
            for c in state.captures
            if c.event.step_id not in gone
            or (c.event.purpose == Purpose.BEFORE and step_id == weigh and not closed)
        ),
        oil={k: v for k, v in (state.oil or {}).items() if k not in gone},
        charge=None if charge_gone else state.charge,
        hold=None if charge_gone else state.hold,
        deviations=tuple(d for d in state.deviations if d.step_id not in gone),
        photos=tuple(p for p in state.photos if p.step_id not in gone),
        gas_unproven=state.gas_unproven or (charge_gone and state.charge is not None),
        gas_found=None if charge_gone and state.charge is not None else state.gas_found,
        gas_fell=None if charge_gone and state.charge is not None else state.gas_fell,
        zero_before=None if charge_gone else state.zero_before,
        gas_rose=None if charge_gone else state.gas_rose,
        line_fell=None if charge_gone or seal_gone else state.line_fell,
        unit_before=None if charge_gone else state.unit_before,
        unit_after=None if charge_gone or seal_gone else state.unit_after,
        unit_second=None,
        unit_second_utc=None,
        read_again=None,
        read_again_utc=None,
        second=None,
        method_chosen=None if parts_gone else state.method_chosen,
        lot_chosen="" if weigh in gone else state.lot_chosen,
        lots_confirmed=() if weigh in gone else state.lots_confirmed,
        # Gone back before the oil, the unit is empty again and filled anew.
        uncaptured=None if parts_gone else state.uncaptured,
    )


def _tried(state: Rebuild, fact: Fact, what: str, value: float, decision: str) -> Rebuild:
    step_id = str(getattr(fact.event, "step_id", ""))
    attempt = Attempt(step_id, what, value, decision, fact.utc)
    return replace(state, attempts=(*state.attempts, attempt))


def _of_tray(event: MassCaptured) -> bool:
    """Return True for bled oil that was weighed by difference, without a tare."""
    return not Purpose(event.purpose).adds and event.method == Method.DIFFERENCE


def _tared(state: Rebuild, fact: Fact, event: TareProven) -> Rebuild:
    state, said = replace(state, tare=event, uncaptured=None), event.emptied
    if event.load_kg is not None:
        on = on_scale(Purpose(event.purpose), Method(event.method))
        load = TaredLoad(event.instrument_id, on, event.load_kg, oil_kg=state.net_shown_kg or 0.0)
        state = replace(state, loads=(*state.loads, load))
    if said is None:
        return state
    word = Emptied(event.step_id, said.statements, said.reasons, said.confirmed_by, fact.utc)
    return replace(state, unweighed=(), emptied=(*state.emptied, word))


def _aside(state: Rebuild, fact: Fact, event: UnitSetAside | UnitWaits | UnitFetched) -> Rebuild:
    if isinstance(event, UnitWaits):
        until = event.due_utc
        waits = Aside(event.step_id, "", Gas.CHARGED, fact.person, fact.utc, until=until)
        left = replace(state, asides=(*state.asides, waits), gas_unproven=True)
        return replace(left, body_measured=None, in_room=None)
    if isinstance(event, UnitSetAside):
        lies = Aside(event.step_id, event.reason, event.gas, fact.person, fact.utc)
        left = replace(state, asides=(*state.asides, lies), tare=None, gas_unproven=True)
        # Nobody knows where it lay, nor in which temperature.
        left = replace(left, body_measured=None, in_room=None)
        if state.specification.step_of(StepKind.CHARGE).id in state.signatures:
            return left
        # A hold test after days would prove nothing about a charge that was captured before them.
        return replace(left, charge=None, hold=None, zero_before=None, gas_rose=None)
    if not state.asides:
        return state
    back = replace(state.asides[-1], fetched_by=fact.person, fetched_utc=fact.utc)
    return replace(state, asides=(*state.asides[:-1], back))


def apply(state: Rebuild, fact: Fact) -> Rebuild:
    """Return the state after one more fact of this unit."""
    event, stamp = fact.event, (fact.person, fact.utc)
    match event:
        case StepSigned():
            signature = Signature(*stamp, event.evidence)
            released = event.step_id == state.specification.step_of(StepKind.RELEASE).id
            return replace(
                state,
                signatures={**state.signatures, event.step_id: signature},
                tare=None,
                uncaptured=None,
                gas_unproven=state.gas_unproven and not released,
            )
        case StepReopened():
            back = Reopened(event.step_id, event.reason, *stamp)
            return replace(_without(state, event.step_id), reopened=(*state.reopened, back))
        case TareProven():
            return _tared(state, fact, event)
        case OilUnweighed():
            loads = state.loads
            if event.reason.code is Code.GIVEN_UP:
                on = on_scale(Purpose(event.purpose), state.method)
                loads = taken_back(loads, on, event.about_kg or 0.0)
            return replace(state, unweighed=(*state.unweighed, event), loads=loads)
        case TareLost():
            return replace(state, tare=None, uncaptured=event if event.uncaptured_kg else None)
        case MassCaptured() if event.by_hand or _of_tray(event):
            # What the hand or a difference has read holds what no tare did, on its side.
            adds = Purpose(event.purpose).adds
            rest = tuple(d for d in state.unweighed if Purpose(d.purpose).adds is not adds)
            taken = (*state.captures, Captured(event, fact.utc))
            load_kg = (event.before_kg or 0.0) + event.shown_kg
            weighed = with_tray(state.loads, event.instrument_id, load_kg)
            loads = weighed if _of_tray(event) else ()
            return replace(state, captures=taken, uncaptured=None, unweighed=rest, loads=loads)
        case MassCaptured():
            captures = (*state.captures, Captured(event, fact.utc))
            loads = with_capture(state.loads, event.instrument_id, event.shown_kg)
            return replace(state, captures=captures, uncaptured=None, loads=loads)
        case MethodChosen():
            return replace(state, method_chosen=Method(event.method))
        case ScaleChosen():
            return replace(state, scales={**(state.scales or {}), event.step_id: event})
        case LotConfirmed():
            return replace(state, lots_confirmed=(*state.lots_confirmed, event.oil_lot))
        case LotChosen():
            return replace(state, lot_chosen=event.oil_lot)
        case OilJudged():
            state = _tried(state, fact, "oil", event.net_shown_kg, event.decision)
            return replace(state, oil={**(state.oil or {}), event.step_id: event})
        case GasFound():
            return replace(state, gas_found=event, gas_fell=None)
        case UnitWeighed() if event.second:
            return replace(state, unit_second=event, unit_second_utc=fact.utc, second=None)
        case UnitWeighed() if event.after:
            return replace(state, unit_after=event, unit_after_utc=fact.utc)
        case PressureReadAgain():
            return replace(state, read_again=event, read_again_utc=fact.utc, second=None)
        case SecondReadingJudged():
            state = _tried(state, fact, "second reading", event.rate_pa_m3_s, event.decision)
            return replace(state, second=event)
        case UnitWeighed():
            return replace(state, unit_before=event, unit_after=None)
        case GaugeZero():
            return replace(state, zero_before=event)
        case GasRose():
            return replace(state, gas_rose=event)
        case LineFell():
            return replace(state, line_fell=event)
        case GasFell():
            return replace(state, gas_fell=event)
        case ChargeCaptured():
            state = _tried(state, fact, "charge", event.settled_gauge_pa, event.decision)
            return replace(state, charge=event, charge_utc=fact.utc, hold=None, line_fell=None)
        case HoldTested():
            state = _tried(state, fact, "hold", event.leak_pa_m3_s, event.decision)
            return replace(state, hold=event)
        case DeviationSigned():
            deviation = Deviation(event.step_id, event.subject, event.reason, *stamp)
            return replace(state, deviations=(*state.deviations, deviation))
        case PhotoTaken():
            return replace(state, photos=(*state.photos, event))
        case PhotoSetAside():
            gone = (event.step_id, event.photo_sha256)
            left = tuple(p for p in state.photos if (p.step_id, p.photo_sha256) != gone)
            return replace(state, photos=left)
        case AlarmChanged():
            return replace(state, alarms={**(state.alarms or {}), event.episode: event})
        case AlarmEpisodeRecorded():
            return replace(state, episodes=(*state.episodes, event))
        case CalibrationChanged():
            changed = Recalibrated(event, *stamp)
            zero = state.zero_before
            if state.charge is None and zero is not None and zero.instrument_id == event.instrument:
                # It was seen under the calibration of before.
                zero = None
            return replace(state, recalibrated=(*state.recalibrated, changed), zero_before=zero)
        case UnitSetAside() | UnitWaits() | UnitFetched():
            return _aside(state, fact, event)
        case BodyMeasured():
            return replace(state, body_measured=BodyReading(event, *stamp))
        case InRoomSince():
            stay = Stay(datetime.fromisoformat(event.since), event.bound_k, *stamp)
            return replace(state, in_room=stay)
        case UnitResumed():
            return replace(state, restarts=(*state.restarts, (event.step_id, fact.utc)))
        case ZeroProven():
            return replace(state, gas_unproven=False)
        case HandedOver():
            given = HandOver(event.step_id, event.note, *stamp)
            return replace(state, hand_overs=(*state.hand_overs, given))
        case HandOverRead() if state.hand_overs:
            read = replace(state.hand_overs[-1], read_by=fact.person, read_utc=fact.utc)
            return replace(state, hand_overs=(*state.hand_overs[:-1], read))
        case RebuildAbandoned():
            return replace(state, ended="abandoned")
        case UnitFiled():
            return replace(state, ended="filed")
        case _:
            return state


def opened_rebuild(fact: Fact, specification: Specification) -> Rebuild:
    """Return the state right after the unit was opened."""
    event = fact.event
    if not isinstance(event, RebuildOpened):
        raise TypeError("a rebuild begins with RebuildOpened")
    return Rebuild(event, fact.person, fact.utc, specification, {})


def fold(facts: Iterable[Fact], specification: Specification) -> Rebuild:
    """Return a unit's state from all its facts, the first being :class:`RebuildOpened`.

    ``specification`` is the revision named there. Raises ``TypeError`` when the first fact is
    another one and ``StopIteration`` when there is none.
    """
    stream = iter(facts)
    state = opened_rebuild(next(stream), specification)
    for fact in stream:
        state = apply(state, fact)
    return state
