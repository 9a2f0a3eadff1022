"""What a step's form shows for each kind of input: fields, lines, a number, and what it offers."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from benchstation.bench.commands.evidence import expected_force
from benchstation.bench.gas_ticks import RestsOn, may_tick, rests_on
from benchstation.bench.session import BenchSession
from benchstation.domain.gas_release import gas_seen
from benchstation.domain.inputs.choice import Choice, Hold
from benchstation.domain.inputs.confirmation import Confirmation
from benchstation.domain.inputs.limits import Limits
from benchstation.domain.inputs.line import TextLine
from benchstation.domain.inputs.material import MaterialInput
from benchstation.domain.inputs.part import PartLine
from benchstation.domain.inputs.photos import Photos
from benchstation.domain.inputs.quantity import Measure, Source
from benchstation.domain.inputs.registry import Asked
from benchstation.domain.inputs.stack import StackInput
from benchstation.domain.inputs.text import FreeText
from benchstation.domain.inputs.torque import TorqueOf, tool_field
from benchstation.domain.inputs.zero import UNIT, ZeroReading, unseen_fields
from benchstation.domain.materials import Sort
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step
from benchstation.domain.wanted_materials import WRENCH
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import Dimension, shown
from benchstation.screens.bench.actions import line_check_actions
from benchstation.screens.bench.forms import text_field
from benchstation.screens.bench.photos import counted, photo_actions, photo_fields
from benchstation.screens.bench.receiving import ask_action, material_field
from benchstation.screens.bench.released import as_found, fill_line_at_gauge, zero_at_gauge
from benchstation.screens.bench.stack import stack_fields
from benchstation.screens.model.elements import ActionView, BigNumber, FieldKind, FieldView, Tone

Lines = tuple[tuple[str, Tone], ...]
NOT_EMPTY = "(may stay empty)"
TOO_LATE = "confirmed only while the charge stands: charge again, or accept a deviation"


@dataclass(frozen=True, slots=True)
class AtStep:
    """Where an input is asked for, and in which units it is shown."""

    session: BenchSession
    rebuild: Rebuild
    step: Step
    words: QuantityFormatter


@dataclass(frozen=True, slots=True)
class InputForm:
    """What one input brings to the form of its step.

    ``why_not`` says why the step cannot be signed now; ``acceptable``: a deviation may accept what
    is given here. ``signs`` is what the key that signs is called, where it takes a reading.
    """

    fields: tuple[FieldView, ...] = ()
    lines: Lines = ()
    big: BigNumber | None = None
    actions: tuple[ActionView, ...] = ()
    why_not: str = ""
    acceptable: bool = False
    signs: str = ""
    ticks_wait: str = ""
    """Why nothing can be confirmed at this step yet; empty: it can."""


def input_form(at_step: AtStep, asked: Asked) -> InputForm:
    """Return what an input brings to the form of its step."""
    return FORMS[type(asked.input)](at_step, asked.name, asked.input)


def _field(at_step: AtStep, name: str, label: str, kind: FieldKind, **more: Any) -> FieldView:
    return text_field(at_step.session, name, label, kind, **more)


def _label(label: str, *, required: bool) -> str:
    return label if required else f"{label} {NOT_EMPTY}"


def _confirmation(at_step: AtStep, name: str, asked: Confirmation) -> InputForm:
    field = _field(at_step, name, asked.label, FieldKind.CHECK)
    if at_step.step != at_step.rebuild.specification.seal_off or may_tick(at_step.session, name):
        return InputForm((field,))
    if rests_on(at_step.rebuild, name) is RestsOn.PRESSURE:
        # It stays, since a lead's deviation accepts it with what is ticked.
        return InputForm((field,), ((TOO_LATE, Tone.CAUTION),), acceptable=True)
    return InputForm(lines=(("the last is confirmed once the line is vented", Tone.PLAIN),))


def _line(at_step: AtStep, name: str, asked: TextLine) -> InputForm:
    label = _label(asked.label, required=asked.required)
    return InputForm((_field(at_step, name, label, FieldKind.TEXT, hint=asked.hint),))


def _text(at_step: AtStep, name: str, asked: FreeText) -> InputForm:
    label = _label(asked.label, required=asked.required)
    return InputForm((_field(at_step, name, label, FieldKind.LINES, hint=asked.hint),))


def _specified(limits: Limits | None, words: QuantityFormatter) -> str:
    return limits.in_words(words.system) if limits else ""


def _quantity(at_step: AtStep, name: str, asked: Measure) -> InputForm:
    limits = asked.limits(expected_force(at_step.session, at_step.rebuild, at_step.step))
    said = _specified(limits, at_step.words)
    word = "expected for this unit" if asked.reference else "specified"
    alone = sum(isinstance(a.input, Measure) for a in at_step.step.asked) == 1
    what = "" if alone else f"{asked.label}, "
    line = f"{what}{word}: {said}" if said else f"{what}recorded only: no limits"
    lines: Lines = ((line, Tone.PLAIN),)
    if asked.source is not Source.TYPED and at_step.session.work.steadying is not None:
        return _reading(at_step, asked, limits, lines)
    field = _field(at_step, name, asked.label, FieldKind.QUANTITY, hint=said)
    return InputForm((field,), lines, acceptable=limits is not None)


def _reading(at_step: AtStep, asked: Measure, limits: Limits | None, lines: Lines) -> InputForm:
    session, steadying = at_step.session, at_step.session.work.steadying
    assert steadying is not None
    now, today = session.clock.seconds(), session.today
    value, steady = steadying.fitted.good_value(now), steadying.taken(now)
    unfit = steadying.fitted.unfit(today)
    refused = "" if at_step.rebuild.deviated(at_step.step.id) else unfit
    state = steadying.state(now)
    number = shown(float("nan") if value is None else value, asked.of, at_step.words.system)
    inside = limits is None or (value is not None and limits.holds(value))
    tone = Tone.DANGER if value is None else Tone.PLAIN if inside else Tone.CAUTION
    unit = f"{number.unit} gauge" if asked.of is Dimension.PRESSURE else number.unit
    told: list[tuple[str, Tone]] = [(state, Tone.NORMAL if steady else Tone.MANDATORY)]
    if len(session.instruments.of(steadying.fitted.role)) > 1:
        told.append((f"on {steadying.fitted.registered.title}", Tone.PLAIN))
    if refused:
        told.insert(0, (refused, Tone.DANGER))
    return InputForm(
        lines=(*told, *lines),
        big=BigNumber(asked.label, number.number, unit, tone, value is None),
        why_not=refused or ("" if steady else state),
        acceptable=limits is not None or bool(unfit),
        signs="Capture and sign",
    )


def _torque(at_step: AtStep, name: str, asked: TorqueOf) -> InputForm:
    said = f"specified: {_specified(asked.limits(), at_step.words)}"
    fields = [_field(at_step, name, asked.label, FieldKind.QUANTITY, hint=said)]
    actions: tuple[ActionView, ...] = ()
    if asked.tool:
        tool = tool_field(name)
        fields.append(material_field(at_step.session, tool, WRENCH, Sort.WRENCH, ""))
        actions = (ask_action(at_step.step),)
    return InputForm(tuple(fields), actions=actions, acceptable=True)


def _material(at_step: AtStep, name: str, asked: MaterialInput) -> InputForm:
    label = _label(asked.label, required=asked.required)
    label = f"{label}, {asked.number}" if asked.number else label
    field = material_field(at_step.session, name, label, asked.sort, asked.number)
    return InputForm((field,), actions=(ask_action(at_step.step),), acceptable=True)


_HOLD_WORDS = {
    Hold.NONE: "",
    Hold.QA: " (QA hold)",
    Hold.DEVIATION: " (deviation only)",
}


def _choice(at_step: AtStep, name: str, asked: Choice) -> InputForm:
    choices = tuple((o.id, f"{o.text}{_HOLD_WORDS[o.hold]}") for o in asked.options)
    field = _field(at_step, name, asked.label, FieldKind.CHOICE, choices=choices)
    closed = [o.text for o in asked.options if o.hold is Hold.DEVIATION]
    said = "can be signed only as a deviation"
    lines = tuple((f"\u201c{text}\u201d {said}", Tone.QUIET) for text in closed)
    return InputForm((field,), lines, acceptable=bool(lines))


def _part(at_step: AtStep, name: str, asked: PartLine) -> InputForm:
    known = at_step.session.work.history
    why_not = "" if known.lots else "no unit of this family with lots is filed yet"
    same = ActionView("same_lots", "Lots as last unit", "Ctrl+K", not why_not, why_not)
    what = f"{asked.count} × {asked.name}, {asked.number}"
    if not asked.lot:
        field = _field(at_step, name, f"{what}, fitted", FieldKind.CHECK)
        return InputForm((field,), actions=(same,), acceptable=True)
    last = known.lots.get(asked.number, "")
    hint = f"choose or scan the lot; last time {last}" if last else "choose or scan the lot"
    lines: Lines = ()
    if known.lots_from:
        lines = ((f"last unit of this family: {known.lots_from}", Tone.QUIET),)
    field = material_field(at_step.session, name, what, Sort.PART, asked.number, hint)
    return InputForm((field,), lines, actions=(same, ask_action(at_step.step)), acceptable=True)


def _stack(at_step: AtStep, _: str, asked: StackInput) -> InputForm:
    fields = stack_fields(at_step.session, at_step.rebuild, asked.record)
    return InputForm(fields, acceptable=True)


def _photos(at_step: AtStep, _: str, asked: Photos) -> InputForm:
    session, rebuild, step = at_step.session, at_step.rebuild, at_step.step
    missing = asked.least - len(rebuild.photos_of(step.id))
    return InputForm(
        photo_fields(session, rebuild, step, asked),
        counted(rebuild, step, asked),
        actions=photo_actions(session, rebuild, step, asked),
        # What is there is in order; only too few are a deviation.
        why_not=f"{missing} still to add" if missing > 0 else "",
        acceptable=missing > 0,
    )


def _zero(at_step: AtStep, name: str, asked: ZeroReading) -> InputForm:
    if asked.place == UNIT:
        empty, big, line = zero_at_gauge(at_step.session, at_step.rebuild, at_step.words)
        seen = gas_seen(at_step.rebuild, at_step.session.gauge.registered.instrument_id)
        fields: tuple[FieldView, ...] = ()
        if empty and seen.fell_from_gauge_pa is None:
            asks = unseen_fields(name).items()
            fields = tuple(_field(at_step, key, said, FieldKind.CHECK) for key, said in asks)
        lines = (line, *as_found(at_step.rebuild, at_step.words))
        waits = "" if empty else "confirm once the gauge shows that the gas is out"
        return InputForm(
            fields,
            lines,
            big,
            line_check_actions(at_step.session),
            why_not="" if empty else line[0],
            ticks_wait=waits,
        )
    pressed, number, line = fill_line_at_gauge(at_step.session, at_step.rebuild, at_step.words)
    why_not = line[0] if pressed else ""
    return InputForm(lines=(line,), big=number, why_not=why_not, acceptable=pressed)


FORMS: dict[type, Callable[[AtStep, str, Any], InputForm]] = {
    Confirmation: _confirmation,
    TextLine: _line,
    FreeText: _text,
    Measure: _quantity,
    TorqueOf: _torque,
    Choice: _choice,
    PartLine: _part,
    MaterialInput: _material,
    StackInput: _stack,
    Photos: _photos,
    ZeroReading: _zero,
}
"""The form of each kind of input."""
