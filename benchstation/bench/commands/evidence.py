"""What signs each kind of step at the desk, and what accepts one outside its limits."""

from collections.abc import Mapping
from dataclasses import replace

from benchstation.bench.session import BenchSession
from benchstation.domain import choosing, disc_stack, measuring, parts, photos, seal_off
from benchstation.domain import unit_commands as commands
from benchstation.domain.events import Event
from benchstation.domain.measuring import PushForce, Taken
from benchstation.domain.rebuild import Deviation, Rebuild
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.step_content import Source
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import UnitSystem

SIGNED = (
    StepKind.CONFIRM,
    StepKind.RELEASE,
    StepKind.MEASURE,
    StepKind.TORQUE,
    StepKind.CHOOSE,
    StepKind.NOTE,
    StepKind.PARTS,
    StepKind.STACK,
    StepKind.PHOTO,
)
"""The kinds of steps that a person signs; the others are signed by a capture or by filing."""
ACCEPTED_WHOLE = (
    StepKind.TORQUE,
    StepKind.CHOOSE,
    StepKind.PARTS,
    StepKind.STACK,
    StepKind.PHOTO,
)
"""A deviation accepts what stands in the form now, and signs the step with it."""


def evidence_events(
    session: BenchSession, rebuild: Rebuild, step: Step, fields: Mapping[str, str]
) -> list[Event]:
    """Return the events that sign a step with what was typed, chosen or measured."""
    units = UnitSystem(fields.get("units", "metric"))
    match step.kind:
        case StepKind.MEASURE:
            return measuring.sign_measure(
                rebuild,
                fields,
                units=units,
                taken=taken(session, rebuild, step),
                expected=expected_force(session, rebuild, step),
            )
        case StepKind.TORQUE:
            return measuring.sign_torque(rebuild, fields, units=units)
        case StepKind.CHOOSE:
            return choosing.sign_choice(rebuild, fields)
        case StepKind.NOTE:
            return choosing.sign_note(rebuild, fields)
        case StepKind.PARTS:
            return parts.sign_parts(rebuild, fields)
        case StepKind.STACK:
            return disc_stack.sign_stack(rebuild, fields)
        case StepKind.PHOTO:
            return photos.sign_photos(rebuild, fields)
        case StepKind.RELEASE:
            gauge_pa = session.gauge.good_value(session.clock.seconds())
            instrument = session.gauge.registered.instrument_id
            return commands.sign_release(
                rebuild, fields, gauge_pa, instrument, units=session.display
            )
        case _ if step == seal_off.seal_off_of(rebuild.specification):
            gauge_pa = session.gauge.good_value(session.clock.seconds())
            instrument = session.gauge.registered.instrument_id
            doubt = session.gauge.unfit(session.clock.utc().date())
            return seal_off.sign_seal_off(
                rebuild, fields, gauge_pa, instrument, doubt, units=session.display
            )
        case _:
            return commands.sign_confirm(rebuild, fields)


def taken(session: BenchSession, rebuild: Rebuild, step: Step) -> Taken | None:
    """Return the instrument's steady value where the step measures with one.

    Raises when the instrument is unfit for a quality result, unless a deviation was signed.
    """
    if session.steadying is None or step.measure is None or step.measure.source is Source.TYPED:
        return None
    unfit = session.steadying.fitted.unfit(session.clock.utc().date())
    if unfit and not rebuild.deviated(step.id):
        raise NotAllowedError(
            f"{unfit}.",
            where=step.title,
            advice="Put that right first, or have a lead accept it as a deviation.",
        )
    return session.steadying.taken(session.clock.seconds())


def expected_force(session: BenchSession, rebuild: Rebuild, step: Step) -> PushForce | None:
    """Return the push force that this unit should have now, where the step asks for it."""
    if step.measure is None or not step.measure.reference:
        return None
    return measuring.push_force(rebuild, session.oil(), session.air())


def deviation_events(
    session: BenchSession, rebuild: Rebuild, step: Step, fields: Mapping[str, str]
) -> list[Event]:
    """Accept a step outside its limits; where its form says what is accepted, it is signed too."""
    assert session.person is not None
    if step.kind is StepKind.FILE and not (session.matched and session.matched.against):
        raise _nothing_to_accept(step)
    lot = session.lot_withdrawn()
    also = {"lot": lot.lot, "lot_reason": lot.reason} if lot else {}
    subject = (
        Statement.of(Code.SET_MATCH, **also)
        if step.kind is StepKind.FILE
        else Statement.of(Code.STEP_RESULT, title=step.title, **also)
    )
    events = commands.sign_deviation(rebuild, session.person, fields.get("reason", ""), subject)
    sealing = step == seal_off.seal_off_of(rebuild.specification)
    if step.kind not in ACCEPTED_WHOLE and not sealing:
        return events
    try:
        evidence_events(session, rebuild, step, fields)
    except StationError:
        accepted = Deviation(step.id, subject, "", session.person.person_id, session.clock.utc())
        assumed = replace(rebuild, deviations=(*rebuild.deviations, accepted))
        return [*events, *evidence_events(session, assumed, step, fields)]
    raise _nothing_to_accept(step)


def _nothing_to_accept(step: Step) -> NotAllowedError:
    done = "File it" if step.kind is StepKind.FILE else "Sign the step"
    return NotAllowedError(
        "there is nothing to accept: it is in order as it stands.",
        where=step.title,
        advice=f"{done}.",
    )
