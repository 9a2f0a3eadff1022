"""Signing, accepting, going back and giving up at the step at hand."""

from collections.abc import Mapping

from benchstation.rebuild import commands
from benchstation.rebuild.commands import NotAllowedError, require_step
from benchstation.rebuild.specification import StepKind
from benchstation.station.desk import Desk
from benchstation.units import Dimension, UnitSystem, display_unit


def sign(desk: Desk, fields: Mapping[str, str]) -> str:
    """Sign a step that is confirmed or measured."""
    rebuild = desk.unit()
    step = require_step(rebuild, StepKind.CONFIRM, StepKind.RELEASE, StepKind.MEASURE)
    pressure = desk.unsafe_pressure_pa()
    if pressure is not None:
        raise NotAllowedError(
            f"the gauge shows {pressure / 1e5:.2f} bar, and the gas must be out.",
            where=step.title,
            advice="Do not open the unit. Go back to the release, and let the gas out.",
        )
    if step.kind is StepKind.CONFIRM:
        events = commands.sign_confirm(rebuild, fields)
    elif step.kind is StepKind.MEASURE:
        unit = display_unit(Dimension.LENGTH, UnitSystem(fields.get("units", "metric")))
        events = commands.sign_measure(rebuild, fields, default_unit=unit)
    else:
        gauge_pa = desk.gauge.good_value(desk.clock.seconds())
        instrument = desk.gauge.registered.instrument_id
        events = commands.sign_release(rebuild, fields, gauge_pa, instrument)
    desk.journal(events)
    return f"{step.title}: signed."


def deviation(desk: Desk, fields: Mapping[str, str]) -> str:
    """Accept the step's result outside its limits, with a reason."""
    rebuild = desk.unit()
    step = require_step(rebuild)
    assert desk.person is not None
    reason = fields.get("reason", "")
    subject = "match of the set" if step.kind is StepKind.FILE else step.title.lower()
    desk.journal(commands.sign_deviation(rebuild, desk.person, reason, subject))
    return f"{step.title}: accepted as a deviation; the unit goes to QA hold."


def back(desk: Desk, fields: Mapping[str, str]) -> str:
    """Go back to a signed step, with a reason."""
    rebuild = desk.unit()
    events = commands.reopen(
        rebuild,
        fields.get("step") or next(reversed(list(rebuild.signatures)), ""),
        fields.get("reason", ""),
        gas_in_unit=desk.gas_in_unit(),
    )
    desk.journal(events)
    current = desk.unit().current
    return f"Back at '{current.title if current else ''}'."


def abandon(desk: Desk, fields: Mapping[str, str]) -> str:
    """End the rebuild without a finished unit, with a reason."""
    gas = desk.gas_in_unit() or desk.unsafe_pressure_pa() is not None
    desk.journal(commands.abandon(desk.unit(), fields.get("reason", "")))
    desk.worry = gas
    warned = " There may be gas in it: let it out before anybody opens it." if gas else ""
    return f"Abandoned; all that was done stays on record.{warned}"
