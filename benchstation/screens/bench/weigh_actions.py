"""What may be done at a weighing: the two usual keys, and the rarer ways behind a third."""

from benchstation.bench.capture.oil import main_purpose, other_lots
from benchstation.bench.capture.weighing import Phase, Weighing
from benchstation.bench.commands.by_hand import why_not_by_hand
from benchstation.bench.commands.scales import other_scales
from benchstation.bench.commands.tray import tray_at
from benchstation.bench.commands.weighing import captured_so
from benchstation.bench.locks import capture_locked, lot_locked
from benchstation.bench.session import BenchSession
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Method, Step, StepKind
from benchstation.domain.unit_commands import PASS
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.screens.bench.actions import deviation_action
from benchstation.screens.bench.can import can_action
from benchstation.screens.bench.scales import several
from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, TaskView, Tone

LEAVE = ActionView("leave", "Cancel", "Esc")
_METHODS = (
    (Method.GAIN, "by_gain", "Gain: the body", "G"),
    (Method.LOSS, "by_loss", "Loss: the jug", "J"),
    (Method.DIFFERENCE, "by_difference", "Before and after", "D"),
)


def weigh_actions(
    session: BenchSession,
    rebuild: Rebuild,
    step: Step,
    weighing: Weighing,
    stale: bool,
    left_kg: float,
) -> tuple[ActionView, ...]:
    """Return the actions of a weighing; ``left_kg`` is what is missing still."""
    phase, plan = weighing.phase, weighing.plan
    locked = capture_locked(session)
    if not locked and weighing.jumped_from_kg is not None:
        locked = "put it back as it was"
    ready = weighing.tared and not locked
    why_not = locked or ("" if weighing.tared else "tare first")
    need = phase is Phase.NEED_TARE
    reading = "no reading" if stale else ""
    actions = [ActionView("tare", "Tare", "T", not stale, reading, primary=need)]
    actions += can_action(rebuild, step)
    capturing = phase is Phase.CAPTURING
    if capturing:
        actions.append(ActionView("cancel", "Stop waiting", "X"))
    bleed = step.kind is StepKind.BLEED
    if bleed and need and plan.purpose is Purpose.BLEED:
        off = "confirm at the tare what was undone" if rebuild.unweighed else ""
        off = "bled oil is not captured yet" if weighing.uncaptured else off
        actions.append(_either("nothing_bled", "Nothing was bled", "N", off))
    if tray_at(session, weighing) is not None:
        actions.append(_either("weigh_tray", "Weigh tray by difference", "D", reading))
    if plan.purpose is not main_purpose(step):
        actions.append(_main(step))
    elif bleed and left_kg < 0 and not need and not capturing:
        actions.append(ActionView("topup", "Top up", "U"))
    if stale and not why_not_by_hand(session, step):
        actions.append(ActionView("by_hand", "By hand", "B"))
    judged = (rebuild.oil or {}).get(step.id)
    if (judged is not None and judged.decision != PASS) or lot_locked(session):
        actions.append(deviation_action(session, rebuild, step))
    if not capturing:
        actions.append(ActionView("ways", "Other ways", "O"))
    before = "Capture the unit before" if weighing.wants_before else "Capture when steady"
    actions.append(
        ActionView(
            "capture",
            "Capturing..." if capturing else before,
            "Space",
            ready and not capturing,
            "waits for steady" if capturing else why_not,
            primary=weighing.tared,
        )
    )
    return tuple(actions)


def _main(step: Step) -> ActionView:
    return ActionView("main", f"Back to the {main_purpose(step).value}", "P")


def _either(action: str, label: str, key: str, why_not: str) -> ActionView:
    return ActionView(action, label, key, not why_not, why_not)


def ways_of(
    session: BenchSession, rebuild: Rebuild, step: Step, weighing: Weighing
) -> tuple[ActionView, ...]:
    """Return the rarer ways, each with why not where it is not possible now."""
    plan = weighing.plan
    captured = captured_so(session, weighing)
    actions: list[ActionView] = []
    if plan.purpose.adds:
        why_not = "something is captured this way already" if captured else ""
        actions += [
            _either(action, label, key, why_not)
            for method, action, label, key in _METHODS
            if method is not plan.method
        ]
        lots = other_lots(rebuild, session.shop, session.today)
        why_not = "" if lots else "there is no other lot of this oil"
        if lots and not (weighing.tared and not weighing.wants_before):
            why_not = "tare, and pour from this one first"
        actions.append(_either("other_lot", "Rest from another lot", "R", why_not))
    if plan.purpose is not main_purpose(step):
        actions.append(_main(step))
    if step.kind is StepKind.BLEED and plan.purpose is not Purpose.TOPUP:
        actions.append(ActionView("topup", "Top up", "U"))
    if plan.purpose is not Purpose.SPILL:
        why_not = "" if rebuild.counting else "capture the pour first"
        actions.append(_either("spill", "Weigh what was spilled", "S", why_not))
    if several(session):
        others = other_scales(session, step, plan.purpose)
        why_not = "" if any(why is None for _, why in others) else "no other scale fits"
        actions.append(_either("other_scale", "Another scale", "L", why_not))
    why_not = "" if captured_so(session, weighing, typed=True) else "nothing of it is captured yet"
    actions.append(_either("again", "Weigh again", "A", why_not))
    actions.append(_either("by_hand", "By hand", "B", why_not_by_hand(session, step)))
    return (*actions, LEAVE)


def lot_task(session: BenchSession, step: Step, words: QuantityFormatter) -> TaskView:
    """Ask for the lot that the rest is poured from."""
    rebuild = session.unit()
    lots = other_lots(rebuild, session.shop, session.today)
    choices = tuple(
        (name, f"{name}, {words.density(lot.rho15_kg_m3)} at {words.oil_base}")
        for name, lot in lots.items()
    )
    return TaskView(
        f"{step.id}-lot",
        step.title,
        "This part is captured under its lot once the scale is steady.",
        lines=(
            (f"so far from {rebuild.oil_lot}", Tone.PLAIN),
            ("then tare again and pour the rest; each lot counts by its own density", Tone.QUIET),
        ),
        fields=(FieldView("lot", "Rest from lot", FieldKind.CHOICE, choices=choices),),
        actions=(LEAVE, ActionView("pour_rest", "Capture this part", "Return", primary=True)),
    )
