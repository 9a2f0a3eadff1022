"""Which of several scales is weighed on and why, and the choice of another."""

from benchstation.bench.commands.scales import SAID, other_scales
from benchstation.bench.session import BenchSession
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.scale_choice import Against, Why
from benchstation.domain.specification import Step
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.screens.model.elements import (
    ActionView,
    FieldKind,
    FieldView,
    TaskView,
    TermView,
    Tone,
)

WHY = {
    Why.FINEST: "the finest rated for at least {load}",
    Why.ONLY: "the only one that fits at least {load}",
    Why.BEFORE: "the unit was weighed on it before",
    Why.CHOSEN: "chosen by hand",
}


def several(session: BenchSession) -> bool:
    """Return True when there is a scale to choose."""
    return len(session.instruments.of(InstrumentRole.SCALE)) > 1


def scale_terms(
    session: BenchSession, step: Step, words: QuantityFormatter
) -> tuple[TermView, ...]:
    """Return the scale that is weighed on, why, and what is against each other one."""
    chosen = (session.unit().scales or {}).get(step.id)
    if not several(session):
        return ()
    title = session.scale.registered.title
    if chosen is None:
        return (TermView("Scale", title, "no other scale fits now"),)
    why = WHY[Why(chosen.why)].format(load=words.amount(chosen.load_kg))
    others = [
        TermView(one.registered.title, "not taken", SAID[Against(chosen.against[one.id])])
        for one in session.instruments.of(InstrumentRole.SCALE)
        if one.id in chosen.against
    ]
    return (TermView("Scale", title, why), *others)


def scale_task(
    session: BenchSession, step: Step, purpose: Purpose, words: QuantityFormatter
) -> TaskView:
    """Ask for the scale to go on with; one that will not do says why instead."""
    others = other_scales(session, step, purpose)
    fit = tuple((one.id, one.registered.title) for one, against in others if against is None)
    lines = tuple(
        (f"{one.registered.title}: {SAID[against]}", Tone.QUIET)
        for one, against in others
        if against is not None
    )
    return TaskView(
        f"{step.id}-scale",
        step.title,
        "Tare again on it; what is captured counts with its own scale.",
        lines=((f"now on {session.scale.registered.title}", Tone.PLAIN), *lines),
        fields=(FieldView("scale", "Scale", FieldKind.CHOICE, choices=fit),),
        actions=(
            ActionView("leave", "Cancel", "Esc"),
            ActionView("use_scale", "Weigh on it", "Return", primary=True),
        ),
    )
