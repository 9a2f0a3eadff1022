"""The middle of the page: what to do at the step at hand."""

from dataclasses import replace

from benchstation.bench.commands.air import AIR
from benchstation.bench.commands.can_lots import CAN
from benchstation.bench.commands.receiving import RECEIVE
from benchstation.bench.session import BenchSession
from benchstation.domain.cautions import cautions_at
from benchstation.domain.people import Role
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.statement_words import worded
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.reports.evidence_words import evidence_in_words
from benchstation.screens.bench.air_form import air_task, with_air
from benchstation.screens.bench.can import can_task
from benchstation.screens.bench.charge import charge_task
from benchstation.screens.bench.matching import against_set, file_actions
from benchstation.screens.bench.pausing import left_by, proof_task
from benchstation.screens.bench.receiving import receive_task, with_withdrawn
from benchstation.screens.bench.recorded import recorded_task
from benchstation.screens.bench.second_reading import second_task
from benchstation.screens.bench.still_needed import of_the_air, to_finish, to_start
from benchstation.screens.bench.unit_weighing import with_unit_weighing
from benchstation.screens.bench.weigh import weigh_task
from benchstation.screens.day.page import day_open
from benchstation.screens.model.elements import (
    ActionView,
    FieldKind,
    FieldView,
    Narrowed,
    TaskView,
    Tone,
)

STILL_NEEDS = "Before the first unit this bench still needs:"
OPEN_RECORD = "open_record"
PAPERS = (
    ActionView("print_label", "Print label", "L"),
    ActionView(OPEN_RECORD, "Open record", "R"),
    ActionView("print_record", "Print record", "P", aside=True),
    ActionView("open_paper", "Open paper", "O", aside=True),
)
"""What the window does with a filed unit's papers by itself."""
"""The window itself does this one: it opens Records at the unit."""
SIGN_IN, OPEN, FILED, ABANDONED = "sign-in", "open", "filed", "abandoned"


def task(session: BenchSession, words: QuantityFormatter, hint: str = "") -> TaskView:
    """Return the task; ``hint`` stands under the PIN field of the demonstration."""
    if session.person is None:
        return sign_in_form(session, hint)
    rebuild = session.rebuild
    if rebuild is None:
        return _open(session)
    step = rebuild.current
    if step is None:
        return _ended(rebuild)
    if rebuild.proof_due:
        return left_by(session, rebuild, proof_task(session, rebuild, step, words))
    at = with_withdrawn(session, rebuild, _at(session, rebuild, step, words))
    if session.work.open_form == AIR:
        return left_by(session, rebuild, air_task(session, step, at))
    shown = at if session.work.open_form else with_air(session, rebuild, step, at)
    return left_by(session, rebuild, with_unit_weighing(session, rebuild, shown))


def _at(session: BenchSession, rebuild: Rebuild, step: Step, words: QuantityFormatter) -> TaskView:
    match step.kind:
        case _ if session.work.open_form == CAN:
            return can_task(rebuild, step)
        case _ if session.work.open_form == RECEIVE:
            return receive_task(session, step)
        case StepKind.WEIGH | StepKind.BLEED:
            return weigh_task(session, rebuild, step, words)
        case StepKind.CHARGE:
            return charge_task(session, rebuild, step, words)
        case StepKind.SECOND:
            return second_task(session, rebuild, step, words)
        case StepKind.FILE:
            return _file(session, rebuild, step, words)
        case _:
            return recorded_task(session, rebuild, step, words)


def sign_in_form(session: BenchSession, hint: str) -> TaskView:
    """Return the form that anybody signs in with."""
    people = sorted(session.shop.people.values(), key=lambda p: p.name)
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
    """Return roles as people say them."""
    words = {Role.TECHNICIAN: "technician", Role.LEAD: "bench lead", Role.QA: "QA"}
    return " and ".join(words[r] for r in Role if r in roles)


def _open(session: BenchSession) -> TaskView:
    shop, today = session.shop, session.today
    current = shop.current_specifications()
    specifications = tuple((s.id, f"{s.family}, revision {s.revision}") for s in current)
    lots = tuple(
        Narrowed(
            s.id,
            tuple(
                (lot.lot, f"{lot.lot}, {lot.oil}")
                for lot in session.shop.lots_for(s, session.today)
            ),
            shop.lot_wanted(s, today),
        )
        for s in current
    )
    first, further = to_start(shop, today), to_finish(session)
    ready = not first
    fields = (
        FieldView(
            "serial",
            "Serial",
            FieldKind.TEXT,
            hint="scan, type, or choose one in Queue (F3)",
            looks_up="look_up",
        ),
        FieldView("specification", "Family", FieldKind.CHOICE, choices=specifications),
        FieldView(
            "lot",
            "Oil lot",
            FieldKind.CHOICE,
            hint="choose the family first",
            narrowed_by="specification",
            narrowed=lots,
        ),
        FieldView("order", "Order", FieldKind.TEXT, hint="may stay empty"),
        FieldView(
            "position", "Position", FieldKind.TEXT, hint="such as front left; may stay empty"
        ),
        FieldView(
            "since",
            "In this room since",
            FieldKind.TEXT,
            hint="such as 08:10, yesterday 16:00 or 3 h; may stay empty",
        ),
    )
    known = session.on_bench.next_unit.fields()
    return TaskView(
        OPEN,
        "Next unit",
        "Put the unit on the bench and scan its serial."
        if ready
        else "\n".join((STILL_NEEDS, *first, *further, *of_the_air(session))),
        lines=(
            *_day_line(session),
            *((f"still needed: {one}", Tone.CAUTION) for one in further if ready),
        ),
        fields=tuple(replace(f, value=known.get(f.id, "")) for f in fields) if ready else (),
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


def _day_line(session: BenchSession) -> tuple[tuple[str, Tone], ...]:
    """Return that lines of the start of the day are open, where they are asked for."""
    left = day_open(session)
    return ((f"start of the day: {left} open (Shift+F2)", Tone.CAUTION),) if left else ()


def _file(
    session: BenchSession, rebuild: Rebuild, step: Step, words: QuantityFormatter
) -> TaskView:
    lines = [
        (f"{s.title}: {evidence_in_words(rebuild.signatures[s.id].evidence, words)}", Tone.PLAIN)
        for s in rebuild.specification.steps
        if s.id in rebuild.signatures
    ]
    holds = [(f"QA hold: {worded(reason)}", Tone.CAUTION) for reason in rebuild.hold_reasons]
    return TaskView(
        step.id,
        step.title,
        step.instruction,
        cautions_at(rebuild.specification, step),
        lines=(*against_set(session.work.matched, words), *holds, *lines),
        actions=file_actions(session, rebuild, step),
    )


def _ended(rebuild: Rebuild) -> TaskView:
    filed = rebuild.ended == "filed"
    holds = [(f"QA hold: {worded(reason)}", Tone.CAUTION) for reason in rebuild.hold_reasons]
    words = (
        "Take it off the bench. Its record is written and never altered."
        if filed
        else "What was done stays on record; no record of a finished unit was made."
    )
    return TaskView(
        FILED if filed else ABANDONED,
        f"{rebuild.opened.serial} is {rebuild.ended}",
        words,
        lines=() if filed else (*holds, ("Take it off the bench.", Tone.PLAIN)),
        actions=(
            *(PAPERS if filed else ()),
            ActionView("next", "Next unit", "Return", primary=True),
        ),
    )
