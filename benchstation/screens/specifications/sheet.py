"""A whole specification as it stands in its text: every figure with unit, meaning and what follows.

Built from what the text says, not from a specification: a value that is half typed stands as it is,
with what is wrong beside it.
"""

import types
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Annotated, Any, Union, get_args, get_origin

from benchstation.domain.content import Part
from benchstation.domain.disc_stack import Disc, Stacks
from benchstation.domain.inputs.choice import Option
from benchstation.domain.inputs.limits import spread_of
from benchstation.domain.inputs.part import PartLine
from benchstation.domain.inputs.quantity import MEASURED, Measure
from benchstation.domain.route_step import NoteField, Step, StepKind
from benchstation.domain.specification import Specification
from benchstation.domain.specification_problems import (
    PUSH_FORCE,
    Follows,
    Problem,
    subject_of,
)
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import significant
from benchstation.quantities.units import Dimension, display_unit, parse, shown
from benchstation.screens.model.specifications import (
    SheetEntry,
    SheetField,
    SheetKind,
    SheetList,
    SheetPart,
)
from benchstation.screens.specifications.figures import (
    FIGURES,
    INPUTS,
    TABLES,
    Figure,
    may_be_left_out,
    usual,
)
from benchstation.screens.specifications.new_entries import (
    DISC,
    NOTE,
    OPTION,
    PART,
    input_entries,
    step_entries,
)

YES = "yes"


@dataclass(frozen=True, slots=True)
class Judged:
    """What is known of a text besides its values."""

    words: QuantityFormatter
    problems: Mapping[str, str] = field(default_factory=dict)
    """What is wrong, by field."""
    follows: Follows | None = None
    beside: Mapping[str, str] = field(default_factory=dict)
    """What the figures make of each other, in words, by the field that it stands beside."""
    example: Mapping[str, str] = field(default_factory=dict)
    """What is still the example's, by field, with its name there."""


def sheet(content: Mapping[str, Any], judged: Judged) -> tuple[SheetPart, ...]:
    """Return all parts of a specification, in the order in which they are filled in.

    What is wrong at a place that has no field, such as a name that is not known, stands at the part
    that it is in.
    """
    parts = _parts(content, judged)
    places = {place for part in parts for place in _places(part)}
    if judged.problems.keys() <= places:
        return parts
    moved: dict[str, str] = {}
    for place, said in judged.problems.items():
        while place not in places:
            place = place.rpartition(".")[0]
        moved[place] = f"{moved[place]} {said}" if place in moved else said
    return _parts(content, replace(judged, problems=moved))


def _places(part: SheetPart) -> Iterator[str]:
    yield part.field
    yield from (one.field for one in part.fields)
    for inner in part.parts:
        yield from _places(inner)
    for one in part.lists:
        yield one.field
        for entry in one.entries:
            yield from _places(entry)


def _parts(content: Mapping[str, Any], judged: Judged) -> tuple[SheetPart, ...]:
    tables: list[tuple[str, str]] = [
        ("geometry", "Sizes"),
        ("oil", "Oil"),
        ("gas", "Gas"),
        ("limits", "Limits"),
    ]
    models = Specification.model_fields
    named = _fields(Specification, "", content, judged)
    parts = [SheetPart("", "name", "Name", named, problem=judged.problems.get("", ""))]
    for name, title in tables:
        parts.append(_table(_model(models[name].annotation), name, title, content, judged))
    stacks = content.get("stacks", {})
    parts.append(
        SheetPart(
            "stacks",
            "stacks",
            "Stacks",
            _fields(Stacks, "stacks", stacks, judged),
            lists=tuple(
                _list(f"stacks.{side}", f"{side.capitalize()}, from the piston",
                      _at(stacks, side), Disc, DISC, judged)
                for side in ("compression", "rebound")
            ),
            problem=judged.problems.get("stacks", ""),
        )
    )  # fmt: skip
    sets = [
        _table(_model(models[name].annotation), name, title, content, judged)
        for name, title in (("matching", "Units of a set"), ("steadiness", "Steady scale"))
    ]
    parts.append(SheetPart("", "judging", "Sets", parts=tuple(sets)))
    parts.append(_route(content, judged))
    return tuple(parts)


def _model(annotation: Any) -> type[Part]:
    """Return the table's model, also of one that may be left out."""
    if get_origin(annotation) is Annotated:
        return _model(get_args(annotation)[0])
    if get_origin(annotation) in (Union, types.UnionType):
        return _model(get_args(annotation)[0])
    assert isinstance(annotation, type)
    assert issubclass(annotation, Part)
    return annotation


def _at(content: Any, name: str) -> Any:
    return content.get(name) if isinstance(content, Mapping) else None


def _table(model: type[Part], place: str, title: str, content: Any, judged: Judged) -> SheetPart:
    said = _at(content, place.rpartition(".")[2])
    inner: tuple[SheetPart, ...] = ()
    if place == "gas":
        service = _model(model.model_fields["service"].annotation)
        inner = (_table(service, "gas.service", "Loss in service", said, judged),)
    fields = _fields(model, place, said, judged)
    if place == "matching" or place.endswith("service"):
        # The whole table may be left out, and then so may each of its figures.
        fields = tuple(replace(one, left_out=True) for one in fields)
    problem = judged.problems.get(place, "")
    return SheetPart(place, place, title, fields, inner, problem=problem)


def _fields(model: type[Part], place: str, said: Any, judged: Judged) -> tuple[SheetField, ...]:
    return tuple(
        _field(figure, model, f"{place}.{figure.name}" if place else figure.name, said, judged)
        for figure in FIGURES[model]
    )


def _field(figure: Figure, model: type[Part], place: str, said: Any, judged: Judged) -> SheetField:
    value, fallback = _at(said, figure.name), usual(model, figure.name)
    dimension = figure.dimension or _measured(figure, said)
    unit = display_unit(dimension, judged.words.system) if dimension is not None else ""
    made = SheetField(
        place,
        figure.label,
        figure.kind,
        _written(value, dimension, judged.words),
        figure.says,
        unit,
        choices=figure.choices,
        problem=judged.problems.get(place, ""),
        follows=judged.beside.get(place, ""),
        example=judged.example.get(place, ""),
        left_out=may_be_left_out(model, figure.name),
        mark=figure.mark,
    )
    if figure.kind is SheetKind.CHECK:
        state = fallback if value is None else value
        return replace(made, value=YES if state is True else "", shown="yes" if state else "no")
    if figure.kind is SheetKind.CHOICE:
        state = str(fallback if value is None else value)
        text = dict(figure.choices).get(state, state)
        return replace(made, value=state, shown=text)
    si = _si(fallback if value is None else value, dimension)
    # What was written in another unit, or is half typed, is told as it stands too.
    text = made.value if si is None or dimension is None else _shown(si, dimension, judged.words)
    plain = "" if fallback is None else _written(fallback, dimension, judged.words)
    return replace(made, shown=text or plain, si=si, usual=plain)


def _measured(figure: Figure, said: Any) -> Dimension | None:
    """Return the dimension of a measured value: its table says it."""
    if figure.kind is not SheetKind.QUANTITY:
        return None
    name = _at(said, "dimension") or Dimension.LENGTH.value
    if name not in [one.value for one in MEASURED]:
        return None
    return spread_of(Dimension(name)) if figure.name == "tolerance" else Dimension(name)


def _written(value: Any, dimension: Dimension | None, words: QuantityFormatter) -> str:
    """Return a value as its author wrote it; a bare number is SI, and shown in the units shown."""
    if value is None:
        return ""
    if isinstance(value, bool | str) or dimension is None:
        return str(value)
    if isinstance(value, int | float):
        return _shown(float(value), dimension, words)
    return str(value)


def _shown(si: float, dimension: Dimension, words: QuantityFormatter) -> str:
    if dimension is Dimension.TIME and si >= 7200.0:
        return (
            f"{significant(si / 3600.0, 6)} h"
            if si < 48 * 3600.0
            else f"{significant(si / 86400.0, 6)} d"
        )
    return str(shown(si, dimension, words.system))


def _si(value: Any, dimension: Dimension | None) -> float | None:
    if dimension is None or isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        return float(value)
    try:
        return parse(value, dimension) if isinstance(value, str) else None
    except StationError:
        return None


# --- lists and steps ---------------------------------------------------------------------------


def _key(entry: Any, place: int) -> str:
    names = [_at(entry, name) for name in ("id", "number", "label")]
    return str(next((name for name in names if name), place))


def _list(
    place: str,
    title: str,
    entries: Any,
    model: type[Part],
    new: tuple[str, SheetEntry],
    judged: Judged,
) -> SheetList:
    listed = entries if isinstance(entries, list) else []
    made = tuple(
        SheetPart(
            f"{place}.{n}",
            _key(entry, n),
            "",
            _fields(model, f"{place}.{n}", entry, judged),
            problem=judged.problems.get(f"{place}.{n}", ""),
        )
        for n, entry in enumerate(listed)
    )
    problem, example = judged.problems.get(place, ""), judged.example.get(place, "")
    return SheetList(place, title, made, (new,), problem, example)


def _lines(
    place: str, title: str, entries: Any, new: tuple[tuple[str, SheetEntry], ...], judged: Judged
) -> SheetList:
    """Return a list of texts, a field each."""
    listed = entries if isinstance(entries, list) else []
    made = []
    for n, entry in enumerate(listed):
        where = f"{place}.{n}"
        said = SheetField(
            where, "", SheetKind.TEXT, str(entry), shown=str(entry),
            problem=judged.problems.get(where, ""),
        )  # fmt: skip
        made.append(SheetPart(where, str(entry), "", (said,)))
    return SheetList(place, title, tuple(made), new, judged.problems.get(place, ""))


def _route(content: Mapping[str, Any], judged: Judged) -> SheetPart:
    steps = content.get("steps")
    listed = steps if isinstance(steps, list) else []
    made = tuple(_step(f"steps.{n}", step, n, judged) for n, step in enumerate(listed))
    problem = judged.problems.get("steps", "")
    return SheetPart(
        "steps",
        "steps",
        "Route",
        lists=(SheetList("steps", "Steps", made, step_entries(listed), problem),),
    )


def _step(place: str, step: Any, n: int, judged: Judged) -> SheetPart:
    kind = str(_at(step, "kind") or "")
    parts = []
    for name, (model, title) in TABLES.items():
        if _at(step, name) is not None:
            part = _asked(model, f"{place}.{name}", _at(step, name), step, judged)
            parts.append(replace(part, title=title))
    lists = [
        _lines(f"{place}.confirmations", "Statements to confirm", _at(step, "confirmations"),
               (("Add a statement", "It is so"),), judged),
        _lines(f"{place}.cautions", "Cautions", _at(step, "cautions"),
               (("Add a caution", "Keep clear"),), judged),
    ]  # fmt: skip
    if kind == StepKind.PARTS or _at(step, "parts"):
        lists.insert(
            0, _list(f"{place}.parts", "Parts", _at(step, "parts"), PartLine, PART, judged)
        )
    if kind == StepKind.STACK or _at(step, "stack"):
        adds = tuple((f"Add {record}", record) for record in ("as found", "as built"))
        lists.insert(0, _lines(f"{place}.stack", "Disc stacks", _at(step, "stack"), adds, judged))
    lists.append(_inputs(place, step, judged))
    lists.append(
        _list(f"{place}.notes", "Lines to write", _at(step, "notes"), NoteField, NOTE, judged)
    )
    title = str(_at(step, "title") or _at(step, "id") or f"step {n + 1}")
    fields = _fields(Step, place, step, judged)
    return SheetPart(
        place, _key(step, n), title, fields, tuple(parts), tuple(lists),
        judged.problems.get(place, ""),
    )  # fmt: skip


def _inputs(place: str, step: Any, judged: Judged) -> SheetList:
    entries = _at(step, "inputs")
    listed = entries if isinstance(entries, list) else []
    made = []
    for n, entry in enumerate(listed):
        model, title = INPUTS.get(str(_at(entry, "type")), (None, "Input"))
        where = f"{place}.inputs.{n}"
        if model is None:
            problem = judged.problems.get(where, "") or "Its type is not known; see the text."
            made.append(SheetPart(where, _key(entry, n), title, problem=problem))
        else:
            part = _asked(model, where, entry, step, judged)
            made.append(replace(part, key=_key(entry, n), title=title))
    problem = judged.problems.get(f"{place}.inputs", "")
    return SheetList(f"{place}.inputs", "Further inputs", tuple(made), input_entries(), problem)


def _asked(model: type[Part], place: str, said: Any, step: Any, judged: Judged) -> SheetPart:
    """Return one thing that a step asks for, with what follows for it from other figures."""
    fields = _fields(model, place, said, judged)
    if model is Measure:
        fields = _with_what_follows(fields, said, step, judged)
    lists: tuple[SheetList, ...] = ()
    if "options" in model.model_fields:
        options = _at(said, "options")
        lists = (_list(f"{place}.options", "Answers", options, Option, OPTION, judged),)
    if "by" in model.model_fields:
        adds = tuple((f"Add {way}", way) for way in ("mass", "pressure"))
        lists = (_lines(f"{place}.by", "Read again by", _at(said, "by"), adds, judged),)
    return SheetPart(
        place, place.rpartition(".")[2], "", fields, (), lists,
        judged.problems.get(place, ""),
    )  # fmt: skip


def _with_what_follows(
    fields: tuple[SheetField, ...], said: Any, step: Any, judged: Judged
) -> tuple[SheetField, ...]:
    try:
        measure = Measure.model_validate(said)
    except ValueError:
        return fields
    subject = subject_of(str(_at(step, "title") or ""), measure)
    value = judged.follows.value_of(subject) if judged.follows is not None else None
    if value is None:
        return fields
    dimension = Dimension.FORCE if subject == PUSH_FORCE else Dimension.LENGTH
    text = _shown(value, dimension, judged.words)
    follows = f"sizes and {'charge' if subject == PUSH_FORCE else 'fill'} give {text}"
    return tuple(
        replace(one, follows=follows, take=text) if one.field.endswith(".nominal") else one
        for one in fields
    )


def by_field(problems: Sequence[Problem]) -> dict[str, str]:
    """Return what is wrong at each field, with what to do."""
    found: dict[str, str] = {}
    for problem in problems:
        said = f"{problem.words} {problem.advice}".strip()
        found[problem.field] = f"{found[problem.field]} {said}" if problem.field in found else said
    return found
