"""All of one moment at the bench."""

from dataclasses import replace

from benchstation.screens.model.bench import (ActionView, BenchView, StepState, StepView, TaskView, Tone, permitted)
from benchstation.domain.rebuild import Rebuild
from benchstation.bench.session import Desk, barred
from benchstation.bench.outputs.mute import mute_action
from benchstation.bench.time_out import warning
from benchstation.screens.bench.actions import side_actions
from benchstation.screens.bench.lamp import output_notes
from benchstation.screens.bench.instrument_bar import banners, strip
from benchstation.screens.bench.task import sign_in_form, task
from benchstation.screens.bench.why import why
from benchstation.quantities.formatter import Words

ONLY_WARNS = "This station only watches and warns. It controls no valve."


def bench_view(desk: Desk, words: Words, *, hint: str = "", note: str = "") -> BenchView:
    """Build the present moment; ``note`` stands there always, such as "a demonstration"."""
    rebuild, shop, air = desk.rebuild, desk.shop, desk.air()
    now, seen = desk.clock.seconds(), desk.watch.snapshot()
    may_not = barred(desk.actions, desk.person)
    shown, beside = task(desk, words, hint), _switch(desk, hint)
    actions = permitted(_apart(shown.actions, beside), may_not, of_desk=True)
    notes = tuple(text for text in (note, ONLY_WARNS, *output_notes(desk)) if text)
    return BenchView(
        shop=shop.name,
        bench=shop.bench,
        person=desk.person.name if desk.person else "nobody signed in",
        clock=f"{desk.clock.utc().astimezone():%a %H:%M}",
        surroundings=f"{words.temperature(air.temperature_k)}   {words.barometer(air.pressure_pa)}",
        unit_title=_title(rebuild),
        unit_subtitle=_subtitle(rebuild),
        steps=_steps(rebuild),
        task=replace(shown, actions=actions),
        why=why(desk, words),
        strip=strip(desk, words),
        alarms=banners(desk, words),
        mute=mute_action(desk.mute, now, seen, signed_in=desk.person is not None),
        muted=desk.mute.left_s(now) > 0,
        side_actions=permitted(side_actions(desk), may_not, of_desk=True),
        notes=notes,
        said=desk.message,
        said_tone=Tone.CAUTION if desk.concern else Tone.GOOD,
        serial=desk.intake.serial,
        who=desk.person.person_id if desk.person else "",
        look=desk.person.look if desk.person else None,
        switch=beside,
        leaving=warning(desk),
        barred=may_not,
    )


def _switch(desk: Desk, hint: str) -> TaskView | None:
    """Give the sign-in form that stands beside the running step."""
    if desk.person is None or not desk.switching:
        return None
    form = sign_in_form(desk, hint)
    stay = ActionView("stay", "Go back", "Esc")
    title = f"Who takes over from {desk.person.name}?"
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


def _steps(rebuild: Rebuild | None) -> tuple[StepView, ...]:
    if rebuild is None:
        return ()
    current = rebuild.current
    again = {r.step_id for r in rebuild.reopened}
    views = []
    for step in rebuild.specification.steps:
        signature = rebuild.signatures.get(step.id)
        if signature is not None or rebuild.ended == "filed":
            state = StepState.DONE
        elif current is not None and step.id == current.id:
            state = StepState.NOW
        else:
            state = StepState.REDO if step.id in again else StepState.WAITING
        evidence = signature.summary if signature else ""
        views.append(StepView(step.id, step.title, state, evidence, step.hold_point))
    return tuple(views)
