"""The middle of the page: what to do at the step at hand."""

from benchstation.bench_view import (
    ActionView,
    BigNumber,
    FieldKind,
    FieldView,
    TaskView,
    Tone,
)
from benchstation.people import Role
from benchstation.rebuild.rebuild import Rebuild
from benchstation.rebuild.specification import Step, StepKind
from benchstation.station.desk import Desk
from benchstation.station.views.charge import charge_task
from benchstation.station.views.forms import form_fields, sign_action
from benchstation.station.views.recorded import recorded_task
from benchstation.station.views.weigh import weigh_task
from benchstation.words import Words

SIGN_IN, OPEN, FILED, ABANDONED = "sign-in", "open", "filed", "abandoned"


def task(desk: Desk, words: Words, hint: str = "") -> TaskView:
    """Give the task; ``hint`` stands under the PIN field of the demonstration."""
    if desk.person is None:
        return _sign_in(desk, hint)
    rebuild = desk.rebuild
    if rebuild is None:
        return _open(desk)
    step = rebuild.current
    if step is None:
        return _ended(rebuild)
    match step.kind:
        case StepKind.WEIGH | StepKind.BLEED:
            return weigh_task(desk, rebuild, step, words)
        case StepKind.CHARGE:
            return charge_task(desk, rebuild, step, words)
        case StepKind.RELEASE:
            return _release(desk, rebuild, step, words)
        case StepKind.FILE:
            return _file(rebuild, step)
        case _:
            return recorded_task(desk, rebuild, step, words)


def _sign_in(desk: Desk, hint: str) -> TaskView:
    people = sorted(desk.shop.people.values(), key=lambda p: p.name)
    choices = tuple((p.person_id, _with_roles(p.name, p.roles)) for p in people if p.pin_hash)
    fields = (
        FieldView("person", "Name", FieldKind.CHOICE, choices=choices),
        FieldView("pin", "PIN", FieldKind.PIN, hint=hint),
    )
    return TaskView(
        SIGN_IN,
        "Sign in",
        "Choose your name and type your PIN. Everything that is signed here carries your name.",
        fields=fields,
        actions=(ActionView("sign_in", "Sign in", "Return", primary=True),),
    )


def _with_roles(name: str, roles: frozenset[Role]) -> str:
    words = {Role.TECHNICIAN: "technician", Role.LEAD: "bench lead", Role.QA: "QA"}
    return f"{name}, {' and '.join(words[r] for r in Role if r in roles)}"


def _open(desk: Desk) -> TaskView:
    specifications = tuple(
        (s.id, f"{s.family}, revision {s.revision}") for s in desk.shop.current_specifications()
    )
    lots = tuple((lot.lot, f"{lot.lot}, {lot.oil}") for lot in desk.shop.lots.values())
    ready = bool(specifications and lots)
    fields = (
        FieldView("serial", "Serial", FieldKind.TEXT, hint="scan or type it"),
        FieldView("specification", "Family", FieldKind.CHOICE, choices=specifications),
        FieldView("lot", "Oil lot", FieldKind.CHOICE, choices=lots),
        FieldView("order", "Order", FieldKind.TEXT, hint="may stay empty"),
        FieldView("position", "Position", FieldKind.TEXT, hint="such as front left"),
    )
    return TaskView(
        OPEN,
        "Next unit",
        "Put the unit on the bench and scan its serial."
        if ready
        else "This bench has no specification or no oil lot yet. A lead adds them first: "
        "see 'Set up a bench' in the README.",
        fields=fields if ready else (),
        actions=(
            ActionView(
                "open",
                "Start this unit",
                "Return",
                ready,
                "" if ready else "there is nothing to choose yet",
                primary=True,
            ),
        ),
    )


def _release(desk: Desk, rebuild: Rebuild, step: Step, words: Words) -> TaskView:
    band = rebuild.specification.gas.release_zero_band
    gauge = desk.gauge.good_value(desk.clock.seconds())
    empty = gauge is not None and abs(gauge) <= band
    number = words.pressure_shown(gauge if gauge is not None else float("nan"))
    if gauge is None:
        line, tone = "no valid reading: this never counts as zero", Tone.DANGER
    elif empty:
        line, tone = f"inside ± {words.pressure(band)}", Tone.GOOD
    else:
        line, tone = (
            f"still under pressure; go on until inside ± {words.pressure(band)}",
            Tone.CAUTION,
        )
    return TaskView(
        step.id,
        step.title,
        step.instruction,
        step.cautions,
        big=BigNumber("pressure in the unit", number.number, f"{number.unit} gauge", tone),
        lines=((line, tone),),
        fields=form_fields(desk, step),
        actions=(sign_action(empty, "" if empty else line),),
    )


def _file(rebuild: Rebuild, step: Step) -> TaskView:
    lines = [
        (f"{s.title}: {rebuild.signatures[s.id].summary}", Tone.PLAIN)
        for s in rebuild.specification.steps
        if s.id in rebuild.signatures
    ]
    holds = [(f"QA hold: {reason}", Tone.CAUTION) for reason in rebuild.hold_reasons]
    return TaskView(
        step.id,
        step.title,
        step.instruction,
        step.cautions,
        lines=(*holds, *lines),
        actions=(ActionView("file", "File this unit", "Return", primary=True),),
    )


def _ended(rebuild: Rebuild) -> TaskView:
    filed = rebuild.ended == "filed"
    holds = [(f"QA hold: {reason}", Tone.CAUTION) for reason in rebuild.hold_reasons]
    words = (
        "Its record is written and never altered; Records shows it."
        if filed
        else "What was done stays on record; no record of a finished unit was made."
    )
    return TaskView(
        FILED if filed else ABANDONED,
        f"{rebuild.opened.serial} is {rebuild.ended}",
        words,
        lines=(*holds, ("Take it off the bench.", Tone.PLAIN)),
        actions=(ActionView("next", "Next unit", "Return", primary=True),),
    )
