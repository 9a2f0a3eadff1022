"""Asking for a tare, a capture or a hold test: what was asked for happens with the readings."""

from collections.abc import Mapping

from benchstation.domain import unit_commands as commands, unweighed
from benchstation.domain.unit_commands import NotAllowedError, require_step
from benchstation.domain.specification import StepKind
from benchstation.bench.capture import oil
from benchstation.bench.session import AGAIN, Desk
from benchstation.bench.capture.weighing import Weighing

EMPTIED = "emptied"
"""The form that asks whether oil which no mass holds was undone."""


def _weighing(desk: Desk) -> Weighing:
    if desk.weighing is None:
        raise NotAllowedError("nothing is weighed at this step.")
    return desk.weighing


def tare(desk: Desk, fields: Mapping[str, str]) -> str:
    """Ask for a tare: it is sent when the scale rests, and proven when it stands at zero."""
    require_step(desk.unit(), StepKind.WEIGH, StepKind.BLEED)
    weighing = _weighing(desk)
    if desk.scale.good_value(desk.clock.seconds()) is None:
        raise NotAllowedError(
            "the scale gives no valid reading.",
            where=desk.scale.registered.title,
            advice="Check its cable and its line on the Instruments page.",
        )
    if weighing.tared:
        desk.lose_tare("tared again")
    rebuild, asked = desk.unit(), desk.sheet == EMPTIED
    if rebuild.unweighed and not asked:
        desk.sheet, desk.worry = EMPTIED, True
        about = desk.words.rough_mass(weighing.uncaptured_kg)
        what = f"About {about} were" if weighing.uncaptured else "Oil may be"
        return f"Not tared. {what} not captured: undo that first, and confirm it."
    person = desk.person.person_id if desk.person else ""
    emptied = unweighed.confirmed(rebuild, fields, person)
    desk.sheet = ""
    weighing.begin_tare(desk.clock.seconds(), emptied)
    return "Taring: hands off until the scale is steady."


def capture(desk: Desk, fields: Mapping[str, str]) -> str:
    """Ask for a capture: it happens by itself when the reading is steady or settled."""
    rebuild = desk.unit()
    step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED, StepKind.CHARGE)
    locked = desk.capture_locked()
    if locked:
        raise NotAllowedError(
            f"capture is locked: {locked}.",
            where=step.title,
            advice="Put that right first; nothing was captured.",
        )
    if step.kind is StepKind.CHARGE:
        desk.charge_wanted = True
        return "Captures as soon as the charge has settled."
    weighing = _weighing(desk)
    if not weighing.tared:
        raise NotAllowedError(
            "the tare is not proven.", where=step.title, advice="Tare first, then pour."
        )
    if weighing.jumped_from_kg is not None:
        raise NotAllowedError(
            "something was put on the scale or lifted off it.",
            where=step.title,
            advice="Put everything back as it was, or tare again.",
        )
    weighing.begin_capture()
    return "Captures as soon as the scale is steady."


def cancel(desk: Desk, fields: Mapping[str, str]) -> str:
    """Take back what was asked for and has not happened."""
    desk.sheet = ""
    if desk.weighing is not None:
        desk.weighing.cancel_capture()
    if desk.charging is not None:
        desk.charging.interrupt()
    desk.charge_wanted = desk.hold_wanted = False
    return "Stopped: nothing was captured."


def nothing_bled(desk: Desk, fields: Mapping[str, str]) -> str:
    """Judge the net oil when none was tipped out."""
    rebuild = desk.unit()
    require_step(rebuild, StepKind.BLEED)
    step = rebuild.specification.step_of(StepKind.BLEED)
    desk.require_no_pressure(step.title)
    if desk.weighing is not None and desk.weighing.uncaptured:
        about = desk.words.rough_mass(desk.weighing.uncaptured_kg)
        raise NotAllowedError(
            f"about {about} ran off and are not captured.",
            where=step.title,
            advice=f"{AGAIN} Then let it run off once more, and capture it.",
        )
    parts = rebuild.counting
    judged = oil.judged(rebuild, step, parts, desk.shop.lots, desk.scale, desk.air())
    desk.journal(commands.nothing_bled(rebuild, judged))
    desk.worry = judged.decision != commands.PASS
    return f"Net oil {desk.words.mass(judged.net_shown_kg)}: {judged.decision}."


def moved_since_captured(desk: Desk) -> str:
    """Say that a hold test would hold another pressure than was captured; empty: it would not."""
    charge = desk.rebuild.charge if desk.rebuild else None
    # A gauge that a typed charge was not read on may be off; it is compared with itself alone.
    if desk.rebuild is None or charge is None or charge.by_hand:
        return ""
    gauge_pa = desk.gauge.good_value(desk.clock.seconds())
    moved = abs((gauge_pa or 0.0) - charge.gauge_pa) > desk.rebuild.specification.gas.tolerance
    return "the pressure is not what was captured any more" if moved else ""


def hold(desk: Desk, fields: Mapping[str, str]) -> str:
    """Start the hold test of the captured charge."""
    rebuild = desk.unit()
    step = require_step(rebuild, StepKind.CHARGE)
    if rebuild.charge is None or desk.charging is None:
        raise NotAllowedError(
            "there is no captured charge.",
            where=step.title,
            advice="Capture the settled charge first.",
        )
    moved = moved_since_captured(desk)
    if moved:
        raise NotAllowedError(
            f"{moved}.",
            where=step.title,
            advice="Let it settle and capture the charge anew, then start the hold test.",
        )
    # The cooling that is left is that of now, not of when somebody last looked.
    desk.charging.settling(desk.clock.seconds())
    desk.charging.begin_hold(rebuild.specification.gas.hold_time)
    desk.hold_wanted = True
    return "Hold test runs: leave valve and unit alone."
