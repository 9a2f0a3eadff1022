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
from benchstation.station.views.actions import deviation_action
from benchstation.station.views.charge import charge_task
from benchstation.station.views.weigh import weigh_task
from benchstation.words import Words

SIGN_IN, OPEN, FILED, ABANDONED = "sign-in", "open", "filed", "abandoned"


def task(desk: Desk, words: Words, hint: str = "") -> TaskView:
    """Give the task; ``hint`` stands under the PIN field of the demonstration."""
    if desk.person is None:
        return sign_in_form(desk, hint)
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
        case StepKind.MEASURE:
            return _measure(desk, rebuild, step, words)
        case StepKind.FILE:
            return _file(rebuild, step)
        case _:
            return TaskView(
                step.id,
                step.title,
                step.instruction,
                step.cautions,
                lines=_pressure(desk, words),
                fields=_form(step),
                actions=(_sign(),),
            )


def _pressure(desk: Desk, words: Words) -> tuple[tuple[str, Tone], ...]:
    """Warn of pressure where the gas must be out."""
    pressure = desk.unsafe_pressure_pa()
    if pressure is None:
        return ()
    said = f"the gauge shows {words.gauge(pressure)}: do not open the unit, go back to the release"
    return ((said, Tone.DANGER),)


def _sign(enabled: bool = True, why_not: str = "") -> ActionView:
    return ActionView("sign", "Sign this step", "Return", enabled, why_not, primary=True)


def sign_in_form(desk: Desk, hint: str) -> TaskView:
    """Give the form that anybody signs in with."""
    people = sorted(desk.shop.people.values(), key=lambda p: p.name)
    here = [p for p in people if p.pin_hash and not p.left]
    choices = tuple((p.person_id, f"{p.name}, {role_words(p.roles)}") for p in here)
    fields = (
        FieldView("person", "Name", FieldKind.CHOICE, choices=choices),
        FieldView("pin", "PIN, or a badge in its place", FieldKind.PIN, hint=hint),
    )
    return TaskView(
        SIGN_IN,
        "Sign in",
        "Scan your badge, or choose your name and type your PIN. "
        "Everything that is signed here carries your name.",
        fields=fields,
        actions=(ActionView("sign_in", "Sign in", "Return", primary=True),),
    )


def role_words(roles: frozenset[Role]) -> str:
    """Give roles as people say them."""
    words = {Role.TECHNICIAN: "technician", Role.LEAD: "bench lead", Role.QA: "QA"}
    return " and ".join(words[r] for r in Role if r in roles)


def _open(desk: Desk) -> TaskView:
    specifications = tuple(
        (s.id, f"{s.family}, revision {s.revision}") for s in desk.shop.current_specifications()
    )
    lots = tuple((lot.lot, f"{lot.lot}, {lot.oil}") for lot in desk.shop.open_lots())
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
        else "This bench has no specification or no oil lot yet. A lead receives lots on the page "
        "Stores (F11); specifications come from 'Set up a bench' in the README.",
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


def _form(step: Step) -> tuple[FieldView, ...]:
    checks = [
        FieldView(f"confirm{n}", text, FieldKind.CHECK)
        for n, text in enumerate(step.confirmations, 1)
    ]
    notes = [
        FieldView(
            note.id,
            note.label if note.required else f"{note.label} (may stay empty)",
            FieldKind.TEXT,
            hint=note.hint,
        )
        for note in step.notes
    ]
    return (*checks, *notes)


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
        fields=_form(step),
        actions=(_sign(empty, "" if empty else line),),
    )


def _measure(desk: Desk, rebuild: Rebuild, step: Step, words: Words) -> TaskView:
    measure = step.measure
    assert measure is not None
    allowed = f"{words.length(measure.nominal)} ± {words.length(measure.tolerance)}"
    field = FieldView("value", measure.label, FieldKind.QUANTITY, hint=allowed)
    return TaskView(
        step.id,
        step.title,
        step.instruction,
        step.cautions,
        lines=(*_pressure(desk, words), (f"specified: {allowed}", Tone.PLAIN)),
        fields=(field, *_form(step)),
        actions=(_sign(), deviation_action(desk, rebuild, step)),
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
