"""The can that oil is poured from: the action and the form that ask for its lot."""

from benchstation.domain.can_lots import unconfirmed
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step, StepKind
from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, TaskView, Tone

SCAN = ActionView("ask_can", "Scan the can", "C")
LEAVE = ActionView("leave", "Cancel", "Esc")


def can_action(rebuild: Rebuild, step: Step) -> tuple[ActionView, ...]:
    """Return the action that asks for the can, while its lot is not on record."""
    due = (
        step.kind in (StepKind.WEIGH, StepKind.BLEED)
        and rebuild.oil_lot not in rebuild.lots_confirmed
    )
    return (SCAN,) if due or unconfirmed(rebuild) else ()


def can_first(rebuild: Rebuild, step: Step, words: str) -> str:
    """Return an instruction that begins with the can as long as its lot is not on record."""
    due = step.kind is StepKind.WEIGH and rebuild.oil_lot not in rebuild.lots_confirmed
    return f"Scan the can. {words}" if due else words


def can_task(rebuild: Rebuild, step: Step) -> TaskView:
    """Ask for the lot on the can."""
    lots = unconfirmed(rebuild) if step.kind is StepKind.FILE else (rebuild.oil_lot,)
    return TaskView(
        f"{step.id}-can",
        step.title,
        "Scan the oil can, or type its lot.",
        lines=((f"chosen: {' and '.join(lots)}", Tone.PLAIN),),
        fields=(FieldView("lot", "Lot on the can", FieldKind.TEXT),),
        actions=(LEAVE, ActionView("confirm_lot", "This is the can", "Return", primary=True)),
    )
