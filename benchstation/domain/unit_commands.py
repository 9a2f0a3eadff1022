"""What a person may do to a rebuild: each command checks, then gives the events that follow.

Nothing here changes anything; the caller journals the events and folds them.
"""

from benchstation.domain.events import (
    ChargeCaptured,
    DeviationSigned,
    Event,
    HoldTested,
    LotChosen,
    MassCaptured,
    OilJudged,
    RebuildAbandoned,
    SecondReadingJudged,
    StepReopened,
    StepSigned,
    TareLost,
    TareProven,
)
from benchstation.domain.given_up import gone_back
from benchstation.domain.inputs.charge import ChargeSigned
from benchstation.domain.inputs.oil import OilSigned
from benchstation.domain.inputs.second_reading import MASS, PRESSURE, SecondSigned, Way
from benchstation.domain.oil_balance import Purpose, counting
from benchstation.domain.people import Person, Role
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.refusals import NotAllowedError as NotAllowedError
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.statement_words import worded
from benchstation.domain.statements import Code, Statement

PASS = "pass"  # noqa: S105 - a verdict, not a secret


def going_step(rebuild: Rebuild) -> Step:
    """Return the current step of a unit that is not ended; raise otherwise."""
    step = rebuild.current
    if step is None:
        raise NotAllowedError(
            "the work on this unit has ended.",
            where=rebuild.opened.serial,
            advice="Start the next unit.",
        )
    return step


def require_step(rebuild: Rebuild, *kinds: StepKind) -> Step:
    """Return the current step when it is of one of ``kinds`` and may be worked; raise otherwise."""
    step = going_step(rebuild)
    require_read(rebuild, step)
    if rebuild.proof_due:
        raise NotAllowedError(
            "this unit was set aside: its gas is not proven out any more.",
            where=step.title,
            advice="Prove it again at the gauge, or go back to the release.",
        )
    if kinds and step.kind not in kinds:
        raise NotAllowedError(
            f"the route stands at '{step.title}'.",
            where=rebuild.opened.serial,
            advice="Finish that step first, or go back to it with a reason.",
        )
    return step


def require_read(rebuild: Rebuild, step: Step) -> None:
    """Raise while nobody has read the note of the last hand-over: no work goes on past it."""
    note = rebuild.unread
    if note is not None:
        raise NotAllowedError(
            f"nobody has read the note of the hand-over: {note.note}",
            where=step.title,
            advice="Read it and confirm that, then continue.",
        )


def capture_mass(
    rebuild: Rebuild, tare: TareProven, captured: MassCaptured, judged: OilJudged
) -> list[Event]:
    """Record a steady mass with its judgement; sign the step when it passes."""
    step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED)
    _require_tare(rebuild, step, tare)
    return [captured, judged, *_sign_if_passed(rebuild, step, judged, captured)]


def _require_tare(rebuild: Rebuild, step: Step, tare: TareProven | None) -> None:
    if rebuild.tare is None or rebuild.tare != tare:
        raise NotAllowedError(
            "the tare is not proven.",
            where=step.title,
            advice="Tare the scale and wait for steady before you capture.",
        )


def capture_before(rebuild: Rebuild, captured: MassCaptured) -> list[Event]:
    """Record the whole unit before the pour; the scale is free until it comes back."""
    step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED)
    _require_tare(rebuild, step, rebuild.tare)
    return [captured, TareLost(rebuild.unit_id, step.id, Statement(Code.SCALE_FREE))]


def capture_part(rebuild: Rebuild, captured: MassCaptured, lot: str) -> list[Event]:
    """Record what was poured from one lot, and go on with the rest from ``lot``.

    It is not judged by itself: what is judged is what the unit holds in the end.
    """
    step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED)
    _require_tare(rebuild, step, rebuild.tare)
    lost = TareLost(rebuild.unit_id, step.id, Statement(Code.OTHER_LOT))
    return [captured, LotChosen(rebuild.unit_id, step.id, lot), lost]


def mass_by_hand(rebuild: Rebuild, captured: MassCaptured, judged: OilJudged) -> list[Event]:
    """Record a mass that was read by hand with its judgement; there is no tare to prove."""
    step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED)
    if captured.by_hand is None or not captured.by_hand.confirmed_by:
        raise NotAllowedError("nobody confirmed it.", where=step.title)
    return [captured, judged, *_sign_if_passed(rebuild, step, judged, captured)]


def mass_of_tray(rebuild: Rebuild, captured: MassCaptured, judged: OilJudged) -> list[Event]:
    """Record bled oil by difference against the tray's empty weight, with its judgement.

    No tare was proven: the difference stands in its place, and ends the doubt about this oil.
    """
    step = require_step(rebuild, StepKind.BLEED)
    if not rebuild.unweighed or captured.before_kg is None:
        raise NotAllowedError("no oil in the tray is in doubt.", where=step.title)
    return [captured, judged, *_sign_if_passed(rebuild, step, judged, captured)]


def nothing_bled(rebuild: Rebuild, judged: OilJudged) -> list[Event]:
    """Record that no oil was tipped out, so that the net is what was poured."""
    step = require_step(rebuild, StepKind.BLEED)
    if rebuild.unweighed:
        raise NotAllowedError(
            f"oil may have been moved that was not weighed: "
            f"{worded(rebuild.unweighed[-1].reason)}.",
            where=step.title,
            advice="Undo it, confirm that at the tare, and capture what is bled.",
        )
    return [judged, *_sign_if_passed(rebuild, step, judged)]


def _sign_if_passed(
    rebuild: Rebuild, step: Step, judged: OilJudged, *captured: MassCaptured
) -> list[Event]:
    if judged.decision != PASS and not rebuild.deviated(step.id):
        return []
    if not _can_be_charged(rebuild, step, judged):
        return []
    if step.kind is StepKind.BLEED and captured and not _is_bled(rebuild, step, captured[-1]):
        # A spill or a top-up alone does not say that the unit was bled.
        return []
    return [_oil_signature(rebuild, step, judged, *captured)]


def _can_be_charged(rebuild: Rebuild, step: Step, judged: OilJudged) -> bool:
    """Return True when the oil that closes a unit leaves room for gas: else it has no target."""
    room = rebuild.specification.geometry.model().free_volume_m3
    return step.kind is not StepKind.BLEED or 0.0 < judged.net_volume_ref_m3 < room


def _is_bled(rebuild: Rebuild, step: Step, captured: MassCaptured) -> bool:
    """Return True when what the step asks for was captured: what was bled."""
    parts = counting([*(c.event for c in rebuild.captures), captured])
    return any((p.step_id, p.purpose) == (step.id, Purpose.BLEED) for p in parts)


def _oil_signature(
    rebuild: Rebuild, step: Step, judged: OilJudged, *captured: MassCaptured
) -> StepSigned:
    asked = step.asked[0]  # A statement beside it is not asked for at a capture.
    parts = counting([*(c.event for c in rebuild.captures), *captured])
    signed = OilSigned(
        asked.name,
        "poured" if step.kind is StepKind.WEIGH else "net",
        judged.net_shown_kg,
        judged.decision,
        any(bool(p.by_hand) for p in parts),
    )
    return StepSigned(rebuild.unit_id, step.id, (signed,))


def capture_charge(rebuild: Rebuild, captured: ChargeCaptured, *, locked: str) -> list[Event]:
    """Record a settled charge. ``locked`` says why the guard locks capture; empty: it does not."""
    step = require_step(rebuild, StepKind.CHARGE)
    if locked:
        raise NotAllowedError(
            f"capture is locked: {locked}.",
            where=step.title,
            advice="Make the pressure safe and acknowledge the alarm first.",
        )
    return [captured]


def finish_hold(rebuild: Rebuild, tested: HoldTested) -> list[Event]:
    """Record a hold test; sign the charge step when charge and hold both pass."""
    step = require_step(rebuild, StepKind.CHARGE)
    charge = rebuild.charge
    if charge is None:
        raise NotAllowedError(
            "there is no captured charge to hold.",
            where=step.title,
            advice="Capture the settled charge first.",
        )
    accepted = charge.decision == PASS and tested.decision == PASS
    if not accepted and not rebuild.deviated(step.id):
        return [tested]
    return [tested, _charge_signature(rebuild, step, charge, tested)]


def _charge_signature(
    rebuild: Rebuild, step: Step, charge: ChargeCaptured, hold: HoldTested
) -> StepSigned:
    asked = step.asked[0]  # A statement beside it is not asked for at a capture.
    signed = ChargeSigned(
        asked.name, charge.settled_gauge_pa, charge.decision, hold.decision, bool(charge.by_hand)
    )
    return StepSigned(rebuild.unit_id, step.id, (signed,))


def second_signature(rebuild: Rebuild, step: Step, found: SecondReadingJudged) -> StepSigned:
    """Return the signature that a second reading makes."""
    ways: tuple[tuple[Way, object], ...] = ((MASS, found.by_mass), (PRESSURE, found.by_pressure))
    evidence = SecondSigned(
        step.asked[0].name,
        found.rate_pa_m3_s,
        2.0 * found.u_rate_pa_m3_s,
        found.decision,
        tuple(way for way, read in ways if read is not None),
    )
    return StepSigned(rebuild.unit_id, step.id, (evidence,))


def sign_deviation(
    rebuild: Rebuild, person: Person, reason: str, subject: Statement
) -> list[Event]:
    """Accept the current step's result outside its limits, by a lead or QA, with a reason."""
    step = require_step(rebuild)
    if not {Role.LEAD, Role.QA} & set(person.roles):
        raise NotAllowedError(
            "a deviation needs a bench lead or QA.",
            where=step.title,
            advice="Have one sign in here; the unit waits at this step.",
        )
    if rebuild.deviated(step.id):
        raise NotAllowedError(
            "a deviation is signed for this step already.",
            where=step.title,
            advice="Continue: one deviation covers this step until you go back to it.",
        )
    if not reason.strip():
        raise NotAllowedError(
            "a deviation needs a reason.", where=step.title, advice="Say why it is acceptable."
        )
    events: list[Event] = [DeviationSigned(rebuild.unit_id, step.id, subject, reason.strip())]
    judged = (rebuild.oil or {}).get(step.id)
    if judged is not None and not _can_be_charged(rebuild, step, judged):
        raise NotAllowedError(
            "with this net oil the unit cannot be charged: it is none, or leaves no room for gas.",
            where=step.title,
            advice="Go back to the oil weigh-in and weigh it again.",
        )
    if step.kind in (StepKind.WEIGH, StepKind.BLEED) and judged is not None:
        events.append(_oil_signature(rebuild, step, judged))
    if step.kind is StepKind.CHARGE and rebuild.charge is not None and rebuild.hold is not None:
        events.append(_charge_signature(rebuild, step, rebuild.charge, rebuild.hold))
    if step.kind is StepKind.SECOND and rebuild.second is not None:
        events.append(second_signature(rebuild, step, rebuild.second))
    return events


def reopen(rebuild: Rebuild, step_id: str, reason: str, *, gas_in_unit: bool) -> list[Event]:
    """Go back to a signed step; it and all after it must be done again.

    With gas in the unit, going back past the release hold point leads to that step instead: nothing
    behind it may be worked on before the gas is out again and that is proven.
    """
    if rebuild.ended:
        raise NotAllowedError(
            "a finished unit is never altered.",
            where=rebuild.opened.serial,
            advice="Open a new rebuild of this serial instead.",
        )
    if step_id not in rebuild.signatures:
        raise NotAllowedError(
            "that step is not signed yet.", where=step_id, advice="Choose a finished step."
        )
    if not reason.strip():
        raise NotAllowedError(
            "going back needs a reason.", where=step_id, advice="Say why in a few words."
        )
    steps = [step.id for step in rebuild.specification.steps]
    release = rebuild.specification.step_of(StepKind.RELEASE).id
    charge = rebuild.specification.step_of(StepKind.CHARGE).id
    if gas_in_unit and steps.index(release) < steps.index(step_id) < steps.index(charge):
        step_id = release
    gone = steps[steps.index(step_id) :]
    back = StepReopened(rebuild.unit_id, step_id, reason.strip())
    return [back, *gone_back(rebuild, step_id, gone)]


def abandon(rebuild: Rebuild, reason: str) -> list[Event]:
    """End a rebuild without a finished unit."""
    going_step(rebuild)
    if not reason.strip():
        raise NotAllowedError(
            "abandoning needs a reason.",
            where=rebuild.opened.serial,
            advice="Say why in a few words; all that was done stays on record.",
        )
    return [RebuildAbandoned(rebuild.unit_id, reason.strip())]
