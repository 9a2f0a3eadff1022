"""What signs a step at the bench, and what accepts one outside its limits."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from benchstation.bench.air_locks import air_locked, computes_force
from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.gas_ticks import without_early
from benchstation.bench.locks import lot_withdrawn
from benchstation.bench.session import BenchSession
from benchstation.bench.targets import oil_in_unit
from benchstation.bench.withdrawn import values_of, withdrawn_from
from benchstation.domain import unit_commands as commands
from benchstation.domain.events import Event
from benchstation.domain.filing import missing_at_filing
from benchstation.domain.gas_mass import missing_proof
from benchstation.domain.gas_release import gas_seen, line_seen, zero_before_pa
from benchstation.domain.inputs.given import GasSeen, GaugeNow, PushForce, Taken
from benchstation.domain.inputs.quantity import Measure, Source
from benchstation.domain.inputs.registry import Input
from benchstation.domain.push_force import push_force
from benchstation.domain.rebuild import Deviation, Rebuild
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import BenchNow, sign_step
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import UnitSystem


def evidence_events(
    session: BenchSession, rebuild: Rebuild, step: Step, fields: Mapping[str, str]
) -> list[Event]:
    """Return the events that sign a step with what was typed, chosen or measured."""
    return sign_step(rebuild, fields, bench_now(session, rebuild, step, fields))


def bench_now(
    session: BenchSession, rebuild: Rebuild, step: Step, fields: Mapping[str, str]
) -> BenchNow:
    """Return what the bench knows now; raises when the step's instrument or the air is unfit."""
    locked = air_locked(session, rebuild, step) if computes_force(step) else ""
    if locked:
        raise NotAllowedError(
            f"{locked}.",
            where=step.title,
            advice="Type what you read (A), or a lead accepts a deviation.",
        )
    return BenchNow(
        UnitSystem(fields.get("units", session.display)),
        taken(session, rebuild, step),
        expected_force(session, rebuild, step),
        GaugeNow(
            session.gauge.good_value(session.clock.seconds()),
            session.gauge.registered.instrument_id,
            session.gauge.unfit(session.today),
            _seen(rebuild, step, session.gauge) if not session.gauge.barred else GasSeen(),
            zero_before_pa(rebuild, session.gauge.registered.instrument_id),
        ),
        dict(session.work.ticks),
        session.shop.stock,
        session.today,
    )


def _seen(rebuild: Rebuild, step: Step, gauge: BenchInstrument) -> GasSeen:
    sealing = step == rebuild.specification.seal_off
    return (line_seen if sealing else gas_seen)(rebuild, gauge.id)


def measured_by(step: Step) -> Measure | None:
    """Return the quantity that a step takes from an instrument; ``None`` where there is none."""
    found = (m for m in _measures(step) if m.source is not Source.TYPED)
    return next(found, None)


def _measures(step: Step) -> Iterator[Measure]:
    inputs: Iterator[Input] = (asked.input for asked in step.asked)
    return (one for one in inputs if isinstance(one, Measure))


def taken(session: BenchSession, rebuild: Rebuild, step: Step) -> Taken | None:
    """Return the instrument's steady value where the step measures with one.

    Raises when the instrument is unfit for a quality result, unless a deviation was signed.
    """
    steadying = session.work.steadying
    if steadying is None or measured_by(step) is None:
        return None
    unfit = steadying.fitted.unfit(session.today)
    if unfit and not rebuild.deviated(step.id):
        raise NotAllowedError(
            f"{unfit}.",
            where=step.title,
            advice="Put that right first, or have a lead accept it as a deviation.",
        )
    return steadying.taken(session.clock.seconds())


def expected_force(session: BenchSession, rebuild: Rebuild, step: Step) -> PushForce | None:
    """Return the push force that this unit should have now, where the step asks for it."""
    if not computes_force(step):
        return None
    return push_force(rebuild, oil_in_unit(session), session.around_unit(rebuild))


def deviation_events(
    session: BenchSession, rebuild: Rebuild, step: Step, fields: Mapping[str, str]
) -> list[Event]:
    """Accept a step outside its limits; where its form says what is accepted, it is signed too."""
    assert session.person is not None
    differs = bool(session.work.matched and session.work.matched.refusal)
    gone = withdrawn_from(session.shop, rebuild) if step.kind is StepKind.FILE else ()
    if step.kind is StepKind.FILE and not (differs or gone or missing_at_filing(rebuild)):
        raise _nothing_to_accept(step)
    lot = lot_withdrawn(session)
    also = {"lot": lot.lot, "lot_reason": lot.reason} if lot else {}
    subject = Statement.of(Code.STEP_RESULT, title=step.title, **also)
    if step.kind is StepKind.FILE:
        lacks = Code.GAS_UNPROVEN if missing_proof(rebuild) else Code.CAN_NOT_SCANNED
        lacks = lacks if missing_at_filing(rebuild) else Code.LOT_WITHDRAWN
        subject = Statement.of(Code.SET_MATCH if differs else lacks, **values_of(gone))
    events = commands.sign_deviation(rebuild, session.person, fields.get("reason", ""), subject)
    if not _accepted_whole(rebuild, step):
        return events
    try:
        evidence_events(session, rebuild, step, without_early(session, fields))
    except StationError:
        accepted = Deviation(step.id, subject, "", session.person.person_id, session.clock.utc())
        assumed = replace(rebuild, deviations=(*rebuild.deviations, accepted))
        return [*events, *evidence_events(session, assumed, step, fields)]
    raise _nothing_to_accept(step)


def _accepted_whole(rebuild: Rebuild, step: Step) -> bool:
    """Return True when a deviation accepts what stands in the form now and signs the step with it.

    A step of measured values alone is measured again after it, with what is on the bench then.
    """
    asked = rebuild.specification.asked_at(step)
    return any(one.input.accepted_whole for one in asked)


def _nothing_to_accept(step: Step) -> NotAllowedError:
    done = "File it" if step.kind is StepKind.FILE else "Sign the step"
    return NotAllowedError(
        "there is nothing to accept: it is in order as it stands.",
        where=step.title,
        advice=f"{done}.",
    )
