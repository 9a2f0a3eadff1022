"""Choosing received materials at a step, receiving there what is not on record, and withdrawals."""

from dataclasses import replace

from benchstation.bench.session import BenchSession
from benchstation.bench.withdrawn import withdrawn_from
from benchstation.domain.materials import Sort
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step
from benchstation.domain.wanted_materials import wanted_by
from benchstation.screens.bench.forms import text_field
from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, TaskView, Tone

_RECEIVE = {
    Sort.KIT: "Receive a kit",
    Sort.PART: "Receive a part",
    Sort.WRENCH: "Receive a wrench",
}
LEAVE = ActionView("leave", "Cancel", "Esc")
NONE_YET = "none on record: receive it with Ctrl+H"
ONLY_ONE = "the only one on record: compare it"


def ask_action(step: Step) -> ActionView:
    """Return the action that takes in what a step asks for and is not on record."""
    sorts = {wanted.sort for wanted in wanted_by(step)}
    label = _RECEIVE[sorts.pop()] if len(sorts) == 1 else "Receive material"
    return ActionView("ask_receive", label, "Ctrl+H")


def material_field(
    session: BenchSession, name: str, label: str, sort: Sort, number: str, hint: str = ""
) -> FieldView:
    """Return the field that offers what is on record of a material; a scan chooses in it too.

    Where only one may be used it is chosen beforehand; signing confirms it.
    """
    offered = session.shop.stock.offered(sort, number, session.today)
    field = text_field(
        session,
        name,
        label,
        FieldKind.CHOICE,
        hint=(hint or "choose or scan it") if offered else NONE_YET,
        choices=tuple(offered.items()),
    )
    only = next(iter(offered), "") if len(offered) == 1 else ""
    if only and offered[only] == only and field.value in ("", only):
        field = replace(field, value=only, hint=ONLY_ONE)
    return replace(field, scanned=True)


def receive_task(session: BenchSession, step: Step) -> TaskView:
    """Ask for the source of what is not on record."""
    wanted = list(wanted_by(step))
    choices = tuple((w.field, f"{w.label}, {w.number}" if w.number else w.label) for w in wanted)
    first = choices[0][0] if len(choices) == 1 else ""
    what = FieldView("wanted", "What it is", FieldKind.CHOICE, first, choices=choices)
    calibrated = any(w.sort.calibrated for w in wanted)
    until = "2027-01-31; of a wrench, its calibration" if calibrated else "2027-01-31, if stated"
    label = "Certificate and number" if calibrated else "Certificate (may stay empty)"
    return TaskView(
        f"{step.id}-receive",
        step.title,
        "Not on record: say where it comes from. It stands as received here, by you.",
        fields=(
            what,
            FieldView("lot", "Lot, or its id", FieldKind.TEXT, session.work.to_receive),
            FieldView("supplier", "Supplier or source", FieldKind.TEXT),
            FieldView("until", "Use until", FieldKind.TEXT, hint=until),
            FieldView("certificate", label, FieldKind.TEXT),
        ),
        actions=(LEAVE, ActionView("receive_here", "Receive and choose", "Return", primary=True)),
    )


def with_withdrawn(session: BenchSession, rebuild: Rebuild, task: TaskView) -> TaskView:
    """Put first, at every step, that a lot in the unit was withdrawn since."""
    lots = withdrawn_from(session.shop, rebuild)
    lines = tuple((f"In this unit: {lot.words}", Tone.DANGER) for lot in lots)
    return replace(task, lines=(*lines, *task.lines)) if lines else task
