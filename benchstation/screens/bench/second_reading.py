"""The second reading on screen: what is still to be read, from when on, and what both say."""

from benchstation.bench.commands.second_words import after_second
from benchstation.bench.session import BenchSession
from benchstation.domain.cautions import cautions_at
from benchstation.domain.inputs.second_reading import MASS, PRESSURE
from benchstation.domain.pausing import why_not_aside
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.second_reading import (
    Wanted,
    asked_at,
    mass_lost,
    pressure_lost,
    wanted,
)
from benchstation.domain.specification import Step
from benchstation.domain.unit_commands import PASS
from benchstation.quantities.formatter import QuantityFormatter, local_time, span
from benchstation.reports.second_words import loss_in_words
from benchstation.screens.bench.actions import deviation_action
from benchstation.screens.model.elements import ActionView, BigNumber, TaskView, Tone

Line = tuple[str, Tone]


def second_task(
    session: BenchSession, rebuild: Rebuild, step: Step, words: QuantityFormatter
) -> TaskView:
    """Return the task of the second reading."""
    still = wanted(rebuild, step)
    return TaskView(
        step.id,
        step.title,
        step.instruction,
        cautions_at(rebuild.specification, step),
        big=_big(session, words),
        lines=(_advice(session, still), *_said(rebuild, step, words)),
        actions=_actions(session, rebuild, step, still),
    )


def _big(session: BenchSession, words: QuantityFormatter) -> BigNumber | None:
    """Return the gauge's reading while it is read again."""
    if session.work.pressure_again is None:
        return None
    value = session.gauge.good_value(session.clock.seconds())
    shown = words.pressure_shown(value if value is not None else float("nan"), 2)
    unit = f"{shown.unit} gauge"
    return BigNumber("gauge on the unit", shown.number, unit, Tone.PLAIN, value is None)


def _ready(session: BenchSession, still: Wanted) -> bool:
    return still.due is not None and session.clock.utc() >= still.due


def _advice(session: BenchSession, still: Wanted) -> Line:
    again = session.work.pressure_again
    if again is not None:
        return again.phase.value, Tone.MANDATORY
    if still.due is None:
        return "weigh the sealed unit: that is its first reading", Tone.MANDATORY
    if not _ready(session, still):
        left = span((still.due - session.clock.utc()).total_seconds())
        return f"let it wait {left}, until {local_time(still.due)}", Tone.MANDATORY
    if MASS in still.second:
        return "weigh the unit again, with all that was on it", Tone.MANDATORY
    if PRESSURE in still.second:
        return "read its pressure again", Tone.MANDATORY
    return "every reading is there", Tone.QUIET


def _said(rebuild: Rebuild, step: Step, words: QuantityFormatter) -> tuple[Line, ...]:
    asked = asked_at(step)
    lines: list[Line] = []
    if asked is not None and MASS in asked.by and rebuild.unit_after is not None:
        first = words.mass(rebuild.unit_after.shown_kg, 2)
        lines.append((f"first mass: {first}", Tone.PLAIN))
    if asked is not None and PRESSURE in asked.by and rebuild.charge is not None:
        first = words.gauge(rebuild.charge.settled_gauge_pa, 2)
        at = words.temperature(rebuild.charge.bench_k)
        lines.append((f"first pressure: {first} at {at}", Tone.PLAIN))
    for name, read in (("mass", mass_lost(rebuild)), ("pressure", pressure_lost(rebuild))):
        if read is not None:
            lines.append((f"by {name}: {loss_in_words(name, read, words)}", Tone.PLAIN))
    found = rebuild.second
    if found is not None:
        tone = Tone.GOOD if found.decision == PASS else Tone.CAUTION
        lines.append((f"leak {after_second(found, words)}", tone))
    limit = words.leak(rebuild.specification.service_leak)
    return (*lines, (f"allowed leak {limit}", Tone.QUIET))


def _actions(
    session: BenchSession, rebuild: Rebuild, step: Step, still: Wanted
) -> tuple[ActionView, ...]:
    if session.work.pressure_again is not None:
        return (ActionView("cancel", "Stop reading", "X"),)
    asked, ready = asked_at(step), _ready(session, still)
    early = "" if ready else "it is not due yet"
    actions: list[ActionView] = []
    if rebuild.second is not None:
        actions.append(deviation_action(session, rebuild, step))
    gauge_pa = session.gauge.good_value(session.clock.seconds())
    why_not = "weigh the sealed unit first" if still.due is None else ""
    why_not = why_not or why_not_aside(rebuild, gauge_pa, session.display)
    actions.append(
        ActionView("let_wait", "Let it wait", "Ctrl+Y", not why_not, why_not, primary=not ready)
    )
    if asked is not None and PRESSURE in asked.by:
        unfit = early or session.gauge.unfit(session.today)
        actions.append(
            ActionView("read_again", "Read the pressure", "H", not unfit, unfit, primary=ready)
        )
    if asked is not None and MASS in asked.by and rebuild.unit_second is not None:
        actions.append(ActionView("weigh_unit", "Weigh it again", "Ctrl+M", ready, early))
    return tuple(actions)
