"""The small form for what nothing at the bench reads: air, barometer, the unit's temperature."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from benchstation.bench.air_locks import air_locked, rests_on
from benchstation.bench.bench_air import surface_thermometer
from benchstation.bench.commands.air import kept
from benchstation.bench.session import BenchSession
from benchstation.domain.air_evidence import AirQuantity
from benchstation.domain.body_temperature import BodySource
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.recorded_parts import Condition
from benchstation.domain.specification import Step, StepKind
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.quantities.units import Dimension, barometer_unit, display_unit
from benchstation.reports.condition_words import condition_lines
from benchstation.screens.bench.actions import deviation_action
from benchstation.screens.model.elements import (
    ActionView,
    FieldKind,
    FieldView,
    TaskView,
    TermGroup,
    TermView,
    Tone,
)

ASK = ActionView("ask_air", "Air and unit", "A")
LEAVE = ActionView("leave", "Cancel", "Esc")
Figure = tuple[str, str, str]
"""A figure that is asked for: its name in the form, what it is, and its unit."""


def conditions_group(
    session: BenchSession, conditions: Iterable[Condition], words: QuantityFormatter
) -> TermGroup:
    """Return the air and the unit's temperature with source, age and uncertainty of each."""
    lines = condition_lines(_named(session, conditions), words, _local)
    return TermGroup("Air and unit, U with k = 2", tuple(TermView(*line) for line in lines))


def _named(session: BenchSession, conditions: Iterable[Condition]) -> Iterable[Condition]:
    """Return the conditions with people as they are called."""
    people = session.shop.people
    for one in conditions:
        person = people.get(one.person)
        yield replace(one, person=person.name if person else one.person)


def _local(utc: str) -> str:
    return local_time(datetime.fromisoformat(utc))


def with_air(session: BenchSession, rebuild: Rebuild, step: Step, task: TaskView) -> TaskView:
    """Add to a task that rests on the air what is known of it, and the action that asks for it."""
    if not rests_on(rebuild.specification, step):
        return task
    locked = air_locked(session, rebuild, step)
    lines: list[tuple[str, Tone]] = []
    if locked:
        lines.append((f"{locked}: press A", Tone.CAUTION))
    if step.kind in (StepKind.CHARGE, StepKind.SECOND):
        body = session.unit_temperature(rebuild)
        if body.source is BodySource.NOT_KNOWN:
            lines.append(("unit temperature not known: press A", Tone.CAUTION))
    ask = replace(ASK, primary=bool(locked))
    actions = task.actions
    if locked:
        actions = tuple(replace(one, primary=False) for one in actions)
        if all(one.id != "deviation" for one in actions):
            actions = (*actions, deviation_action(session, rebuild, step))
        actions = (*actions, ask)
    else:
        # The primary one keeps its place.
        actions = (*actions[:-1], ask, *actions[-1:])
    # What the guard or the step says first stays first.
    return replace(task, lines=(*task.lines[:1], *lines, *task.lines[1:]), actions=actions)


def air_task(session: BenchSession, step: Step, task: TaskView) -> TaskView:
    """Ask for air, barometer and the unit's temperature; the strip keeps the pressure in sight."""
    words = session.words
    known, now = session.known_air, session.moment()
    asked = [
        _figure(session, quantity)
        for quantity in (AirQuantity.TEMPERATURE, AirQuantity.PRESSURE)
        if known.instrument_for(quantity, session.instruments, now) is None
    ]
    degrees = display_unit(Dimension.TEMPERATURE, words.system)
    asked.append(("unit", "Unit temperature at its body", degrees))
    since = FieldView(
        "since",
        "Or: in this room since",
        FieldKind.TEXT,
        hint="such as 08:10, yesterday 16:00 or 3 h; not warmed since",
    )
    actions = [LEAVE]
    probe = surface_thermometer(session.instruments)
    if probe is not None:
        off = probe.good_value(now.seconds) is None
        why = f"{probe.registered.title} gives no reading" if off else ""
        actions.append(ActionView("measure_unit", "Read the unit's probe", "P", not off, why))
    actions.append(ActionView("note_air", "Save", "Return", primary=True))
    return TaskView(
        f"{step.id}-air",
        f"{step.title}: air and unit",
        "Enter what you read. An empty field keeps the known value.",
        task.cautions,
        lines=task.lines[:1],
        fields=(*_figures(session, asked), *_sources(session, asked), since),
        actions=tuple(actions),
    )


def _figure(session: BenchSession, quantity: AirQuantity) -> Figure:
    if quantity is AirQuantity.TEMPERATURE:
        unit = display_unit(Dimension.TEMPERATURE, session.words.system)
        return "air", "Air temperature", unit
    return "barometer", "Barometer at this place", barometer_unit(session.words.system)


def air_fields(session: BenchSession, quantity: AirQuantity) -> list[FieldView]:
    """Return the fields of air temperature or barometer."""
    asked = [_figure(session, quantity)]
    return [*_figures(session, asked), *_sources(session, asked)]


def _figures(session: BenchSession, asked: Iterable[Figure]) -> Iterable[FieldView]:
    """Return a value and its U for each figure: beside each other in the form's two columns."""
    for name, label, unit in asked:
        yield FieldView(name, f"{label}, {unit}", FieldKind.QUANTITY)
        _, u = kept(session, name)
        yield FieldView(f"{name}_u", "Its uncertainty U, k = 2", FieldKind.QUANTITY, u)


def _sources(session: BenchSession, asked: Iterable[Figure]) -> Iterable[FieldView]:
    """Return what each figure was read on."""
    for name, label, _ in asked:
        on, _ = kept(session, name)
        what = label.partition(" at ")[0]
        yield FieldView(f"{name}_on", f"{what}, read on", FieldKind.TEXT, on)
