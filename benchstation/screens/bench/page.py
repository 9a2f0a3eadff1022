"""All of one moment at the bench."""

from dataclasses import replace

from benchstation.bench.session import BenchSession, barred
from benchstation.bench.time_out import warning
from benchstation.domain.air_evidence import AirQuantity, AirSource
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.unit_commands import PASS
from benchstation.quantities.formatter import QuantityFormatter, local_clock
from benchstation.reports.evidence_words import evidence_in_words
from benchstation.screens.bench.actions import side_actions
from benchstation.screens.bench.alarm_panel import banners
from benchstation.screens.bench.damper import is_filling, living_damper
from benchstation.screens.bench.guide import guide
from benchstation.screens.bench.instruction import overtaken, under_alarm
from benchstation.screens.bench.instrument_bar import strip
from benchstation.screens.bench.lamp import output_notes
from benchstation.screens.bench.mute import mute_action
from benchstation.screens.bench.proof import filed_proof, moments
from benchstation.screens.bench.task import sign_in_form, task
from benchstation.screens.bench.unfinished import unfinished, watched
from benchstation.screens.bench.why import why
from benchstation.screens.day.page import day_open
from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import (
    ActionView,
    StepState,
    StepView,
    TaskView,
    Tone,
    permitted,
)

NOT_ON_RECORD = "Not on record yet: {}. Nothing is signed or captured until it is written."
ONLY_WARNS = "This station only watches and warns. It controls no valve."


def bench_view(
    session: BenchSession, words: QuantityFormatter, *, hint: str = "", note: str = ""
) -> BenchView:
    """Build the present moment; ``note`` stands there always, such as "a demonstration"."""
    rebuild, shop = session.rebuild, session.shop
    now, seen = session.clock.seconds(), session.watch.snapshot()
    may_not = barred(session.commands, session.person)
    shown, beside = under_alarm(task(session, words, hint), seen), _switch(session, hint)
    actions = permitted(_apart(shown.actions, beside), may_not, by_id=True)
    unwritten = session.to_write.problem
    notes = (
        note,
        ONLY_WARNS,
        session.copies.standing.note(session.clock.utc()) if session.copies else "",
        session.shop_note(session.clock.utc()) if session.shop_note else "",
        *output_notes(session),
        unwritten and NOT_ON_RECORD.format(unwritten),
    )
    return BenchView(
        shop=shop.name,
        bench=shop.bench,
        person=session.person.name if session.person else "nobody signed in",
        clock=local_clock(session.clock.utc(), seconds=False),
        surroundings=_air(session, words),
        unit_title=_title(rebuild),
        unit_subtitle=_subtitle(rebuild),
        steps=_steps(rebuild, words),
        task=replace(shown, actions=actions),
        why=why(session, words),
        strip=strip(session, words),
        alarms=banners(session, words),
        mute=mute_action(session.outputs.mute, now, seen, signed_in=session.person is not None),
        muted=session.outputs.mute.left_s(now) > 0,
        side_actions=permitted(side_actions(session), may_not, by_id=True),
        notes=tuple(text for text in notes if text),
        said=session.message.text,
        said_tone=Tone.CAUTION if session.message.needs_attention else Tone.NORMAL,
        serial=session.on_bench.next_unit.serial,
        who=session.person.person_id if session.person else "",
        preferences=session.person.preferences if session.person else None,
        switch=beside,
        leaving=warning(session),
        day_open=day_open(session),
        watched=watched(session, seen),
        unfinished=unfinished(session, seen),
        barred=may_not,
        guide=guide(session, shown.step_id, seen),
        damper=living_damper(session, words, is_filling(session)),
        moments=moments(rebuild, words),
        filed=filed_proof(session, words),
        written=session.on_bench.written,
    )


def _air(session: BenchSession, words: QuantityFormatter) -> str:
    """Return air temperature and barometer as they are known; what nobody read is no figure."""
    now, known = session.moment(), session.known_air
    said = []
    for quantity, shown in (
        (AirQuantity.TEMPERATURE, words.temperature),
        (AirQuantity.PRESSURE, words.barometer),
    ):
        found = known.evidence(quantity, session.instruments, now)
        not_read = found.source is AirSource.SET_UP
        said.append(f"{quantity} not read" if not_read else shown(found.value))
    return "   ".join(said)


def with_alarms(session: BenchSession, view: BenchView, words: QuantityFormatter) -> BenchView:
    """Return a view that was built before the guard's last change with what the guard says now.

    May be called from any thread: it asks nothing of a bench that is at work.
    """
    now, seen = session.clock.seconds(), session.watch.snapshot()
    return replace(
        view,
        task=overtaken(view.task, seen),
        alarms=banners(session, words),
        mute=mute_action(session.outputs.mute, now, seen, signed_in=bool(view.who)),
        muted=session.outputs.mute.left_s(now) > 0,
        watched=watched(session, seen),
    )


def _switch(session: BenchSession, hint: str) -> TaskView | None:
    """Return the sign-in form that stands beside the running step."""
    if session.person is None or not session.signed_in.switching:
        return None
    form = sign_in_form(session, hint)
    stay = ActionView("stay", "Go back", "Esc")
    title = f"Who takes over from {session.person.name}?"
    return replace(form, step_id="switch", title=title, actions=(*form.actions, stay))


def _apart(actions: tuple[ActionView, ...], beside: TaskView | None) -> tuple[ActionView, ...]:
    """Take the keys of the form beside the step off the step's actions: a key does one thing."""
    taken = {action.key for action in beside.actions} if beside is not None else set()
    return tuple(replace(a, key="") if a.key in taken else a for a in actions)


def _title(rebuild: Rebuild | None) -> str:
    if rebuild is None:
        return "No unit on the bench"
    return f"{rebuild.opened.serial}   {rebuild.opened.position}".strip()


def _subtitle(rebuild: Rebuild | None) -> str:
    if rebuild is None:
        return ""
    return f"{rebuild.specification.family}, revision {rebuild.specification.revision}"


def _differs(rebuild: Rebuild, step: Step) -> bool:
    """Return True when a step is done and not as it should be: no tick stands there."""
    charged = step.kind is StepKind.CHARGE
    judged = (
        (rebuild.oil or {}).get(step.id),
        rebuild.charge if charged else None,
        rebuild.hold if charged else None,
    )
    failed = any(result is not None and result.decision != PASS for result in judged)
    return failed or rebuild.deviated(step.id)


def _steps(rebuild: Rebuild | None, words: QuantityFormatter) -> tuple[StepView, ...]:
    if rebuild is None:
        return ()
    current = rebuild.current
    again = {r.step_id for r in rebuild.reopened}
    views = []
    for step in rebuild.specification.steps:
        signature = rebuild.signatures.get(step.id)
        if signature is not None or rebuild.ended == "filed":
            state = StepState.DIFFERS if _differs(rebuild, step) else StepState.DONE
        elif current is not None and step.id == current.id:
            state = StepState.NOW
        else:
            state = StepState.REDO if step.id in again else StepState.WAITING
        evidence = evidence_in_words(signature.evidence, words) if signature else ""
        views.append(StepView(step.id, step.title, state, evidence, step.hold_point))
    return tuple(views)
