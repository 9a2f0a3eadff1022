"""Events to and from their stored bodies; what this version does not know is refused in words."""

import types
from collections.abc import Iterator
from dataclasses import fields
from typing import Any

from pydantic import TypeAdapter

from benchstation.domain.events import (
    after_filing,
    air,
    alarms,
    charge,
    gauge,
    instruments,
    materials,
    orders,
    people,
    recall,
    second_reading,
    shop,
    shop_chain,
    trust,
    unit,
    weighing,
)
from benchstation.domain.events.base import FORM, Event, EventError
from benchstation.domain.events.upgrades import upgraded
from benchstation.domain.plain import plain

_SUBJECTS = (
    people,
    shop,
    materials,
    instruments,
    orders,
    unit,
    after_filing,
    weighing,
    charge,
    gauge,
    second_reading,
    alarms,
    air,
    trust,
    shop_chain,
    recall,
)
_UPDATE = "Update this program; the file is left as it is."
_VERIFY = "Verify the journal; nothing was changed."


def _kinds(module: types.ModuleType) -> Iterator[type[Event]]:
    for found in vars(module).values():
        if isinstance(found, type) and issubclass(found, Event) and found.kind:
            yield found


EVENT_TYPES: dict[str, type[Event]] = {c.kind: c for m in _SUBJECTS for c in _kinds(m)}
"""Every event class by its kind."""

_ADAPTERS: dict[str, tuple[TypeAdapter[Any], frozenset[str]]] = {}


def stored_body(event: Event) -> dict[str, Any]:
    """Return what the journal stores of an event: its fields, and its form from form 2 on."""
    # As Event.body, without its deep copy: this one is only written out.
    body = {field.name: plain(getattr(event, field.name)) for field in fields(event)}
    return {**body, FORM: event.form} if event.form > 1 else body


def event_from(kind: str, body: dict[str, Any]) -> Event:
    """Return the event of ``kind`` from its stored body, read through the upgrades of its form.

    Raises :class:`EventError` for a kind, a form or a field that this version does not know: a
    journal written by a newer version is refused in words, never half understood.
    """
    form, given = _form_of(kind, body)
    cls = known_type(kind, form)
    adapter, names = _ADAPTERS.get(kind) or _made(cls)
    try:
        given = upgraded(kind, given, form, cls.form)
        _require_fields(cls, names, given)
        event = adapter.validate_python(given)
    except (LookupError, TypeError, ValueError) as error:
        raise EventError(
            f"an event '{kind}' in the journal does not have the form it should.",
            where="journal",
            advice=_VERIFY,
            detail=str(error),
        ) from error
    assert isinstance(event, Event)
    return event


def body_schema(kind: str) -> dict[str, Any]:
    """Return the JSON Schema of the body that this version stores of a kind of event."""
    cls = EVENT_TYPES[kind]
    adapter, _ = _ADAPTERS.get(kind) or _made(cls)
    schema = adapter.json_schema(mode="serialization")
    if cls.form > 1:
        schema["properties"] = {**schema["properties"], FORM: {"const": cls.form}}
    return schema


def known_type(kind: str, form: int) -> type[Event]:
    """Return the class of ``kind``; raise :class:`EventError` where this version is too old."""
    cls = EVENT_TYPES.get(kind)
    if cls is None:
        raise EventError(
            f"the journal holds an event '{kind}' that this version does not know.",
            where="journal",
            advice=_UPDATE,
        )
    if form > cls.form:
        raise EventError(
            f"the journal holds an event '{kind}' of form {form}; this version knows it up to "
            f"form {cls.form}.",
            where="journal",
            advice=_UPDATE,
        )
    return cls


def _form_of(kind: str, body: dict[str, Any]) -> tuple[int, dict[str, Any]]:
    if FORM not in body:
        return 1, body
    form = body[FORM]
    if type(form) is not int or form < 2:
        raise EventError(
            f"an event '{kind}' in the journal names no form: {form!r}.",
            where="journal",
            advice=_VERIFY,
        )
    return form, {name: value for name, value in body.items() if name != FORM}


def _made(cls: type[Event]) -> tuple[TypeAdapter[Any], frozenset[str]]:
    # Made once: an adapter takes longer to make than an event to read.
    made = TypeAdapter(cls), frozenset(field.name for field in fields(cls))
    return _ADAPTERS.setdefault(cls.kind, made)


def _require_fields(cls: type[Event], names: frozenset[str], body: dict[str, Any]) -> None:
    if body.keys() == names:
        return
    extra = sorted(body.keys() - names)
    if extra:
        raise EventError(
            f"an event '{cls.kind}' in the journal has fields that this version does not know: "
            f"{', '.join(extra)}.",
            where="journal",
            advice=_UPDATE,
        )
    if cls.form > 1:
        missing = ", ".join(sorted(names - body.keys()))
        raise EventError(
            f"an event '{cls.kind}' in the journal lacks fields: {missing}.",
            where="journal",
            advice=_VERIFY,
        )
