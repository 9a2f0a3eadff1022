"""What a form says, read once into the command it asks for; refused in words that name the field.

A command's fields say by their type how their text is read: text, yes or no, a quantity in SI, the
units that are shown, or the whole form where its keys come from a step.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, Field, dataclass, field, fields, is_dataclass
from enum import StrEnum
from functools import cache
from typing import Any, TypeVar, get_type_hints

from benchstation.domain.form_fields import SIGNATURE
from benchstation.domain.inputs.given import YES
from benchstation.driver_api.errors import StationError, in_field
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, parse

C = TypeVar("C")
UNITS = "units"
"""Under this name a form says in which units its numbers without a unit are meant."""
_SECRETS = frozenset(("pin", "pin_again", "old", "badge", "badge_again", SIGNATURE))
"""What is typed under these names is never kept with the rest of a form."""
_FROM = "from"


class Text(StrEnum):
    """How a text is read, and whether a badge is looked for in it."""

    LINE = "line"
    """Blanks around it are nothing."""
    SECRET = "secret"  # noqa: S105 - the word for it, not one
    """As it was typed; never written down, and a badge belongs there."""
    DOCUMENT = "document"
    """As it was written, such as a list from a file: too long to look for badges in."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where in a form a field of a command stands, and how it is read."""

    name: str = ""
    """Of the form's field; empty: as the command calls it."""
    text: Text = Text.LINE
    dimension: Dimension | None = None
    read: Callable[[Mapping[str, str]], object] | None = None
    """Reads several of the form's fields into one value."""


def named(name: str, **given: Any) -> Any:
    """Declare a text that the form has under another name."""
    return field(metadata={_FROM: Source(name)}, **given)


def secret(name: str = "", **given: Any) -> Any:
    """Declare a PIN or badge."""
    return field(metadata={_FROM: Source(name, Text.SECRET)}, repr=False, **given)


def document(name: str = "", **given: Any) -> Any:
    """Declare a long text that is kept as it was written."""
    return field(metadata={_FROM: Source(name, Text.DOCUMENT)}, repr=False, **given)


def quantity(name: str, dimension: Dimension, **given: Any) -> Any:
    """Declare a quantity; a number without a unit is in the units that are shown."""
    return field(metadata={_FROM: Source(name, dimension=dimension)}, **given)


def made_from(read: Callable[[Mapping[str, str]], object], **given: Any) -> Any:
    """Declare a value that is made from several fields of the form."""
    return field(metadata={_FROM: Source(read=read)}, **given)


@cache
def _hints(kind: type) -> Mapping[str, Any]:
    return get_type_hints(kind)


def command_from(kind: type[C], form: Mapping[str, str]) -> C:
    """Return the command that a form asks for; what else the form holds is left out."""
    assert is_dataclass(kind)
    hints = _hints(kind)
    return kind(**{f.name: _value(f, hints[f.name], form) for f in fields(kind)})


def command_as_typed(
    kind: type[C], form: Mapping[str, str]
) -> tuple[C | None, dict[str, StationError]]:
    """Return the command as far as its form can be read, and what cannot be read, by field.

    A quantity that is not there yet is no number; ``None`` where another part cannot be read.
    """
    assert is_dataclass(kind)
    hints, values, wrong, whole = _hints(kind), {}, {}, True
    for declared in fields(kind):
        try:
            values[declared.name] = _value(declared, hints[declared.name], form)
        except StationError as error:
            wrong[error.field or declared.name] = error
            values[declared.name] = math.nan
            whole = whole and declared.metadata[_FROM].dimension is not None
    return (kind(**values) if whole else None), wrong


def _value(declared: "Field[Any]", hint: Any, form: Mapping[str, str]) -> object:
    source = declared.metadata.get(_FROM, Source())
    name = source.name or declared.name
    if source.read is not None:
        return source.read(form)
    if hint == Mapping[str, str]:
        return {name: text for name, text in form.items() if name not in _SECRETS}
    if name not in form and declared.default is not MISSING:
        return declared.default
    text = form.get(name, "")
    if source.text is Text.LINE:
        text = text.strip()
    if source.dimension is not None:
        if not text and declared.default is not MISSING:
            return declared.default
        unit = display_unit(source.dimension, shown_units(form))
        with in_field(name):
            return parse(text, source.dimension, default_unit=unit)
    if hint is bool:
        return text == YES
    return shown_units(form) if hint is UnitSystem else text


def shown_units(form: Mapping[str, str]) -> UnitSystem:
    """Return the units that a form's numbers without a unit are meant in."""
    return UnitSystem(form.get(UNITS, UnitSystem.METRIC))


def texts_of(value: object) -> Iterator[str]:
    """Return every text of a command, or of a part of one, in which no badge may stand."""
    if isinstance(value, StrEnum):
        return
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from texts_of(inner)
    elif isinstance(value, tuple):
        for inner in value:
            yield from texts_of(inner)
    elif is_dataclass(value):
        for declared in fields(value):
            if declared.metadata.get(_FROM, Source()).text is Text.LINE:
                yield from texts_of(getattr(value, declared.name))
