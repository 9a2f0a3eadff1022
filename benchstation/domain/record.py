"""The finished unit's record: everything a later reader needs, once, from the unit's facts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import UTC, datetime

from benchstation.domain.events import (
    ChargeCaptured,
    HoldTested,
    InstrumentRegistered,
    OilJudged,
    OilLotReceived,
    UnitFiled,
)
from benchstation.domain.gas_mass import gain
from benchstation.domain.guard_limits import GuardLimits
from benchstation.domain.oil_balance import added_by_lot
from benchstation.domain.oil_target import OilTarget
from benchstation.domain.people import Person
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.recorded_parts import ReadByHand
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import PASS, NotAllowedError, require_step
from benchstation.domain.unit_record import (
    FORMAT,
    RecordedAlarm,
    RecordedAside,
    RecordedAttempt,
    RecordedCapture,
    RecordedCharge,
    RecordedCheck,
    RecordedDeviation,
    RecordedEmptied,
    RecordedGasByMass,
    RecordedGuard,
    RecordedHandOver,
    RecordedHold,
    RecordedInstrument,
    RecordedLot,
    RecordedOil,
    RecordedPerson,
    RecordedRecalibration,
    RecordedRestart,
    RecordedRework,
    RecordedScale,
    RecordedSecond,
    RecordedSet,
    RecordedShift,
    RecordedSpecification,
    RecordedStep,
    UnitRecord,
)
from benchstation.metrology.conformity import GUARD_FACTOR


@dataclass(frozen=True, slots=True)
class RecordContext:
    """What the record takes from outside the unit's own facts."""

    shop: str
    bench: str
    program: str
    filed_by: str
    people: Mapping[str, Person]
    lot: OilLotReceived
    instruments: Sequence[InstrumentRegistered]
    guard: GuardLimits
    lots: Mapping[str, OilLotReceived] = field(default_factory=dict)
    """All lots, for a unit that got oil from more than the one it was opened with."""
    checks: Mapping[str, RecordedCheck] = field(default_factory=dict)
    """The newest check that counts of each instrument, by its id."""
    matched: RecordedSet | None = None
    """The set that the unit belongs to, as it stood at filing."""
    written_by: tuple[str, str] = ("", "")
    """The names of who wrote the unit's specification, and of who approved it."""
    virtual: Mapping[str, str] = field(default_factory=dict)
    """What spoke in an instrument's place while the unit was worked on, by its id."""
    clock_ran_back: bool = False
    """Whether the computer's clock was set back while the unit was worked on."""
    records_lack: bool = False
    """Whether records that may lack entries were gone on with while the unit was worked on."""
    learned_late: tuple[Statement, ...] = ()
    """What the shop had decided meanwhile, and this bench did not know."""


def stamp(utc: datetime) -> str:
    """Return a UTC time as ISO 8601 text with milliseconds and Z."""
    return utc.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def file_unit(rebuild: Rebuild, context: RecordContext, utc: datetime) -> UnitFiled:
    """Return the filing event with the whole record; raises when anything is missing."""
    require_step(rebuild, StepKind.FILE)
    judged, charge, hold = rebuild.oil_judged(StepKind.BLEED), rebuild.charge, rebuild.hold
    if judged is None or charge is None or hold is None:
        raise NotAllowedError(
            "the evidence for oil, charge or hold is missing.",
            where=rebuild.opened.serial,
            advice="Go back to the step that lacks it.",
        )
    decisions = [judged.decision, charge.decision, hold.decision]
    if rebuild.second is not None:
        decisions.append(rebuild.second.decision)
    passed = all(d == PASS for d in decisions)
    decision = "deviation" if rebuild.deviations or not passed else PASS
    reasons = rebuild.hold_reasons
    if context.clock_ran_back:
        reasons += (Statement.of(Code.CLOCK_RAN_BACK),)
    if context.records_lack:
        reasons += (Statement.of(Code.RECORDS_LACK),)
    reasons += context.learned_late
    opened, specification = rebuild.opened, rebuild.specification
    record = UnitRecord(
        FORMAT,
        opened.unit_id,
        opened.serial,
        opened.family,
        specification.title,
        RecordedSpecification(
            specification.id,
            specification.revision,
            specification.sha256(),
            *context.written_by,
        ),
        opened.order,
        opened.position,
        context.shop,
        context.bench,
        context.program,
        stamp(rebuild.opened_utc),
        stamp(utc),
        _person(context, rebuild.opened_by),
        _person(context, context.filed_by),
        _oil(rebuild, judged, context),
        _charge(charge, context),
        _hold(hold),
        steps=_steps(rebuild, context),
        instruments=_instruments(context),
        alarms=_alarms(rebuild, context),
        deviations=tuple(
            RecordedDeviation(
                d.step_id, d.subject, d.reason, _name(context, d.person), stamp(d.utc)
            )
            for d in rebuild.deviations
        ),
        rework=tuple(
            RecordedRework(r.step_id, r.reason, _name(context, r.person), stamp(r.utc))
            for r in rebuild.reopened
        ),
        attempts=tuple(
            RecordedAttempt(a.step_id, a.what, a.value, a.decision, stamp(a.utc))
            for a in rebuild.attempts
        ),
        decision=decision,
        qa_hold=bool(reasons),
        qa_hold_reasons=reasons,
        guard=RecordedGuard(
            context.guard.warning_gauge_pa,
            context.guard.limit_gauge_pa,
            context.guard.limit_source,
        ),
        decision_rule=Statement.of(Code.GUARDED_ACCEPTANCE, guard_factor=GUARD_FACTOR),
        worked=_worked(rebuild, context, utc),
        hand_overs=_hand_overs(rebuild, context),
        asides=_asides(rebuild, context),
        recalibrated=_recalibrated(rebuild, context),
        set=context.matched,
        gas_by_mass=_gas_by_mass(rebuild),
        second_reading=_second(rebuild),
        lots_scanned=rebuild.lots_confirmed,
        restarts=tuple(RecordedRestart(step, stamp(at)) for step, at in rebuild.restarts),
    )
    return UnitFiled(rebuild.unit_id, opened.serial, decision, bool(reasons), record.as_json())


def _second(rebuild: Rebuild) -> RecordedSecond | None:
    found = rebuild.second
    if found is None:
        return None
    return RecordedSecond(**{f.name: getattr(found, f.name) for f in fields(RecordedSecond)})


def _gas_by_mass(rebuild: Rebuild) -> RecordedGasByMass | None:
    before, after, found = rebuild.unit_before, rebuild.unit_after, gain(rebuild)
    if before is None or after is None or found is None:
        return None
    return RecordedGasByMass(
        after.instrument_id,
        before.shown_kg,
        after.shown_kg,
        found.gain_kg,
        found.expected_kg,
        found.tolerance_kg,
        found.expanded_kg,
        found.decision.value,
    )


def _worked(rebuild: Rebuild, context: RecordContext, utc: datetime) -> tuple[RecordedShift, ...]:
    """Return who had the unit when; nothing where one person had it all along."""
    if not rebuild.hand_overs and not rebuild.asides:
        return ()
    return tuple(
        RecordedShift(_name(context, person), stamp(since), stamp(until))
        for person, since, until in shifts(rebuild, context.filed_by, utc)
    )


def _hand_overs(rebuild: Rebuild, context: RecordContext) -> tuple[RecordedHandOver, ...]:
    return tuple(
        RecordedHandOver(
            h.step_id,
            h.note,
            _name(context, h.person),
            stamp(h.utc),
            _name(context, h.read_by),
            stamp(h.read_utc) if h.read_utc else "",
        )
        for h in rebuild.hand_overs
    )


def _asides(rebuild: Rebuild, context: RecordContext) -> tuple[RecordedAside, ...]:
    return tuple(
        RecordedAside(
            a.step_id,
            a.reason,
            a.gas,
            _name(context, a.person),
            stamp(a.utc),
            _name(context, a.fetched_by),
            stamp(a.fetched_utc) if a.fetched_utc else "",
            a.until,
        )
        for a in rebuild.asides
    )


def _recalibrated(rebuild: Rebuild, context: RecordContext) -> tuple[RecordedRecalibration, ...]:
    return tuple(
        RecordedRecalibration(
            r.event.step_id,
            r.event.instrument,
            r.event.before,
            r.event.after,
            _name(context, r.person),
            stamp(r.utc),
        )
        for r in rebuild.recalibrated
    )


def shifts(rebuild: Rebuild, filed_by: str, utc: datetime) -> list[tuple[str, datetime, datetime]]:
    """Return who had the unit from when until when; between two of them nobody had it."""
    found: list[tuple[str, datetime, datetime]] = []
    person, since = rebuild.opened_by, rebuild.opened_utc
    ends = [(h.utc, h.read_by, h.read_utc) for h in rebuild.hand_overs]
    ends += [(a.utc, a.fetched_by, a.fetched_utc) for a in rebuild.asides]
    for end, next_person, begin in sorted(ends, key=lambda item: item[0]):
        if person:
            found.append((person, since, end))
        person, since = next_person, begin or end
    return [*found, (person or filed_by, since, utc)]


def _name(context: RecordContext, person_id: str) -> str:
    person = context.people.get(person_id)
    return person.name if person else person_id


def _person(context: RecordContext, person_id: str) -> RecordedPerson:
    return RecordedPerson(person_id, _name(context, person_id))


def _oil(rebuild: Rebuild, judged: OilJudged, context: RecordContext) -> RecordedOil:
    counting, lot = rebuild.counting, context.lot
    captures = tuple(
        RecordedCapture(
            c.event.purpose,
            c.event.shown_kg,
            c.event.trace_sha256,
            stamp(c.utc),
            c.event.instrument_id,
            c.event.method,
            c.event.oil_lot,
            c.event.portion,
            c.event in counting,
            c.event.before_kg,
            _by_hand(c.event.by_hand, context),
            c.event.raw_slice,
            c.event.calibration,
            c.event.u_calibration_kg,
            c.event.zero_kg,
            c.event.u_repeated_kg,
            c.event.dof_repeated,
            c.event.alive,
        )
        for c in rebuild.captures
    )
    return RecordedOil(
        lot.lot,
        lot.oil,
        rebuild.specification.oil.grade,
        lot.source,
        judged.target_shown_kg,
        judged.net_shown_kg,
        judged.deviation_kg,
        judged.tolerance_kg,
        judged.u_kg,
        judged.expanded_kg,
        judged.coverage_factor,
        judged.decision,
        judged.probability,
        judged.net_volume_ref_m3,
        judged.terms,
        judged.budget,
        captures,
        _emptied(rebuild, context),
        _lots(rebuild, judged.terms, context),
        tuple(
            RecordedScale(c.step_id, c.scale_id, c.why, c.load_kg, c.against)
            for c in (rebuild.scales or {}).values()
        ),
    )


def _emptied(rebuild: Rebuild, context: RecordContext) -> tuple[RecordedEmptied, ...]:
    """Return who confirmed before a tare that unweighed oil was undone."""
    return tuple(
        RecordedEmptied(e.step_id, e.statements, e.reasons, _name(context, e.person), stamp(e.utc))
        for e in rebuild.emptied
    )


def _lots(rebuild: Rebuild, terms: OilTarget, context: RecordContext) -> tuple[RecordedLot, ...]:
    """Return what was added from each lot: mass as shown, and volume by the lot's own density."""
    known = {context.lot.lot: context.lot, **context.lots}
    rows = []
    for name, shown_kg in added_by_lot(rebuild.counting, context.lot.lot).items():
        lot = known[name]
        density = lot.known.density(terms.basis_k)
        volume = shown_kg / terms.buoyancy / density
        rows.append(RecordedLot(name, lot.oil, lot.source, lot.rho15_kg_m3, shown_kg, volume))
    return tuple(rows)


def _by_hand(read: ReadByHand | None, context: RecordContext) -> ReadByHand | None:
    return replace(read, confirmed_by=_name(context, read.confirmed_by)) if read else None


def _charge(charge: ChargeCaptured, context: RecordContext) -> RecordedCharge:
    conditions = tuple(replace(c, person=_name(context, c.person)) for c in charge.conditions)
    by_hand = _by_hand(charge.by_hand, context)
    return replace(charge_of(charge), by_hand=by_hand, conditions=conditions)


def charge_of(charge: ChargeCaptured) -> RecordedCharge:
    """Return a charge as a record has it."""
    return RecordedCharge(**{f.name: getattr(charge, f.name) for f in fields(RecordedCharge)})


def _hold(hold: HoldTested) -> RecordedHold:
    return RecordedHold(**{f.name: getattr(hold, f.name) for f in fields(RecordedHold)})


def _instruments(context: RecordContext) -> tuple[RecordedInstrument, ...]:
    return tuple(
        RecordedInstrument(
            i.instrument_id,
            i.role,
            i.title,
            i.serial_number,
            i.calibrated_on,
            i.calibrated_until,
            i.certificate,
            context.checks.get(i.instrument_id),
            i.calibration.laboratory if i.calibration is not None else "",
            context.virtual.get(i.instrument_id, ""),
        )
        for i in context.instruments
    )


def _alarms(rebuild: Rebuild, context: RecordContext) -> tuple[RecordedAlarm, ...]:
    alarms = rebuild.alarms or {}
    return tuple(
        RecordedAlarm(
            e.alarm,
            e.started_utc,
            e.ended_utc,
            e.peak_gauge_pa,
            _name(context, e.acknowledged_by),
            e.reason,
            alarms[e.episode].gauge_id if e.episode in alarms else "",
        )
        for e in rebuild.episodes
    )


def _steps(rebuild: Rebuild, context: RecordContext) -> tuple[RecordedStep, ...]:
    titles = {step.id: step.title for step in rebuild.specification.steps}
    return tuple(
        RecordedStep(
            step_id,
            titles[step_id],
            signature.person,
            _name(context, signature.person),
            stamp(signature.utc),
            signature.evidence,
        )
        for step_id, signature in rebuild.signatures.items()
    )
