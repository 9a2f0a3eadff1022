"""The finished unit's record: everything a later reader needs, once, from the unit's facts."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from typing import Any

from benchstation.domain.events import (
    ChargeCaptured,
    InstrumentRegistered,
    OilJudged,
    OilLotReceived,
    UnitFiled,
)
from benchstation.domain.guard_limits import GuardLimits
from benchstation.domain.oil_balance import added_by_lot
from benchstation.domain.people import Person
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import PASS, NotAllowedError, require_step
from benchstation.metrology.conformity import rule_in_words
from benchstation.physics.oil import Oil

FORMAT = "benchstation-record/2"
COVERAGE = "U is the expanded uncertainty at about 95 % coverage (JCGM 100)."


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
    matched: Mapping[str, Any] | None = None
    """The set that the unit belongs to, as it stood at filing."""


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
    passed = all(d == PASS for d in (judged.decision, charge.decision, hold.decision))
    decision = "deviation" if rebuild.deviations or not passed else PASS
    reasons = rebuild.hold_reasons
    record = {
        "format": FORMAT,
        **_identity(rebuild, context, utc),
        "oil": _oil(rebuild, judged, context),
        "charge": _charge(charge, context),
        "hold": _without(hold.body(), "unit_id", "step_id"),
        "steps": _steps(rebuild, context),
        "instruments": [
            {
                "id": i.instrument_id,
                "role": i.role,
                "title": i.title,
                "serial_number": i.serial_number,
                "calibrated_on": i.calibrated_on,
                "calibrated_until": i.calibrated_until,
                "certificate": i.certificate,
            }
            for i in context.instruments
        ],
        "alarms": [
            {
                **_without(e.body(), "unit_id", "episode", "trace_sha256"),
                "acknowledged_by": _name(context, e.acknowledged_by),
            }
            for e in rebuild.episodes
        ],
        "deviations": [
            {
                "step": d.step_id,
                "subject": _stated(d.subject),
                "reason": d.reason,
                "person": _name(context, d.person),
                "utc": stamp(d.utc),
            }
            for d in rebuild.deviations
        ],
        "rework": [
            {
                "step": r.step_id,
                "reason": r.reason,
                "person": _name(context, r.person),
                "utc": stamp(r.utc),
            }
            for r in rebuild.reopened
        ],
        "attempts": [
            {
                "step": a.step_id,
                "what": a.what,
                "value": a.value,
                "decision": a.decision,
                "utc": stamp(a.utc),
            }
            for a in rebuild.attempts
        ],
        "decision": decision,
        "qa_hold": bool(reasons),
        "qa_hold_reasons": [_stated(reason) for reason in reasons],
        "guard": {
            "warning_gauge_pa": context.guard.warning_gauge_pa,
            "limit_gauge_pa": context.guard.limit_gauge_pa,
            "limit_source": context.guard.limit_source,
        },
        "decision_rule": f"{rule_in_words()} {COVERAGE} (ISO 14253-1, JCGM 106)",
        **_leaves(rebuild, context, utc),
    }
    if context.matched is not None:
        record["set"] = dict(context.matched)
    return UnitFiled(rebuild.unit_id, rebuild.opened.serial, decision, bool(reasons), record)


def _leaves(rebuild: Rebuild, context: RecordContext, utc: datetime) -> dict[str, Any]:
    """Tell who had the unit when, where it lay aside and who handed it over; nothing if nobody."""
    if not rebuild.hand_overs and not rebuild.asides:
        return {}
    return {
        "worked": [
            {"name": _name(context, person), "from": stamp(since), "until": stamp(until)}
            for person, since, until in shifts(rebuild, context.filed_by, utc)
        ],
        "hand_overs": [
            {
                "step": h.step_id,
                "note": h.note,
                "person": _name(context, h.person),
                "utc": stamp(h.utc),
                "read_by": _name(context, h.read_by),
                "read_utc": stamp(h.read_utc) if h.read_utc else "",
            }
            for h in rebuild.hand_overs
        ],
        "asides": [
            {
                "step": a.step_id,
                "reason": a.reason,
                "gas": a.gas.value,
                "person": _name(context, a.person),
                "utc": stamp(a.utc),
                "fetched_by": _name(context, a.fetched_by),
                "fetched_utc": stamp(a.fetched_utc) if a.fetched_utc else "",
            }
            for a in rebuild.asides
        ],
    }


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


def _without(body: dict[str, Any], *names: str) -> dict[str, Any]:
    return {key: value for key, value in body.items() if key not in names}


def _stated(statement: Statement) -> dict[str, Any]:
    return {"code": statement.code.value, "values": dict(statement.values)}


def stated_in(found: Mapping[str, Any]) -> Statement:
    """Return a statement that a record holds."""
    return Statement(Code(found["code"]), dict(found["values"]))


def _name(context: RecordContext, person_id: str) -> str:
    person = context.people.get(person_id)
    return person.name if person else person_id


def _identity(rebuild: Rebuild, context: RecordContext, utc: datetime) -> dict[str, Any]:
    opened, specification = rebuild.opened, rebuild.specification
    return {
        "unit_id": opened.unit_id,
        "serial": opened.serial,
        "family": opened.family,
        "title": specification.title,
        "specification": {
            "id": specification.id,
            "revision": specification.revision,
            "sha256": specification.sha256(),
        },
        "order": opened.order,
        "position": opened.position,
        "shop": context.shop,
        "bench": context.bench,
        "program": context.program,
        "opened_utc": stamp(rebuild.opened_utc),
        "filed_utc": stamp(utc),
        "technician": {"id": rebuild.opened_by, "name": _name(context, rebuild.opened_by)},
        "filed_by": {"id": context.filed_by, "name": _name(context, context.filed_by)},
    }


def _oil(rebuild: Rebuild, judged: OilJudged, context: RecordContext) -> dict[str, Any]:
    counting, lot = rebuild.counting, context.lot
    captures = [
        {
            "purpose": c.event.purpose,
            "instrument_id": c.event.instrument_id,
            "shown_kg": c.event.shown_kg,
            "trace_sha256": c.event.trace_sha256,
            "utc": stamp(c.utc),
            "method": c.event.method,
            "lot": c.event.oil_lot,
            "portion": c.event.portion,
            "counts": c.event in counting,
            "before_kg": c.event.before_kg,
            "by_hand": _by_hand(c.event.by_hand, context),
            "raw_slice": list(c.event.raw_slice),
            "calibration": c.event.calibration,
            "u_calibration_kg": c.event.u_calibration_kg,
        }
        for c in rebuild.captures
    ]
    return {
        "lot": lot.lot,
        "name": lot.oil,
        "grade": rebuild.specification.oil.grade,
        "density_source": lot.source,
        **_without(judged.body(), "unit_id", "step_id"),
        "captures": captures,
        **_emptied(rebuild, context),
        "lots": _lots(rebuild, judged, context),
    }


def _emptied(rebuild: Rebuild, context: RecordContext) -> dict[str, Any]:
    """Return who confirmed before a tare that unweighed oil was undone; nothing where none was."""
    if not rebuild.emptied:
        return {}
    return {
        "emptied": [
            {
                "step": e.step_id,
                "statements": [undone.value for undone in e.statements],
                "reasons": [_stated(reason) for reason in e.reasons],
                "confirmed_by": _name(context, e.person),
                "utc": stamp(e.utc),
            }
            for e in rebuild.emptied
        ]
    }


def _lots(rebuild: Rebuild, judged: OilJudged, context: RecordContext) -> list[dict[str, Any]]:
    """Return what was added from each lot: mass as shown, and volume by the lot's own density."""
    basis_k, buoyancy = float(judged.terms["basis_k"]), float(judged.terms["buoyancy"])
    known = {context.lot.lot: context.lot, **context.lots}
    rows = []
    for name, shown_kg in added_by_lot(rebuild.counting, context.lot.lot).items():
        lot = known[name]
        density = Oil(lot.rho15_kg_m3, lot.alpha_per_k, lot.u_rho_rel).density(basis_k)
        rows.append(
            {
                "lot": name,
                "name": lot.oil,
                "density_source": lot.source,
                "rho15_kg_m3": lot.rho15_kg_m3,
                "added_shown_kg": shown_kg,
                "added_volume_ref_m3": shown_kg / buoyancy / density,
            }
        )
    return rows


def _by_hand(evidence: Mapping[str, Any], context: RecordContext) -> dict[str, Any]:
    if not evidence:
        return {}
    return {**evidence, "confirmed_by": _name(context, str(evidence["confirmed_by"]))}


def _charge(charge: ChargeCaptured, context: RecordContext) -> dict[str, Any]:
    body = _without(charge.body(), "unit_id", "step_id")
    return {**body, "by_hand": _by_hand(charge.by_hand, context)}


def _steps(rebuild: Rebuild, context: RecordContext) -> list[dict[str, Any]]:
    titles = {step.id: step.title for step in rebuild.specification.steps}
    return [
        {
            "id": step_id,
            "title": titles[step_id],
            "person": signature.person,
            "name": _name(context, signature.person),
            "utc": stamp(signature.utc),
            "evidence": [asdict(result) for result in signature.evidence],
        }
        for step_id, signature in rebuild.signatures.items()
    ]
