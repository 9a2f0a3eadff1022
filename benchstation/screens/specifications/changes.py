"""What differs between two revisions, by the names of the form and in the units that are shown."""

import math

from benchstation.quantities.notation import significant
from benchstation.screens.model.specifications import SheetField, SheetPart

NOT_THERE, THERE = "–", "stands here"
Change = tuple[str, str, str]


def changes(before: tuple[SheetPart, ...], now: tuple[SheetPart, ...]) -> tuple[Change, ...]:
    """Return every figure that differs: its name, as it was, as it is.

    A step, part or input that came or went is one change; so is another order of the steps.
    """
    found: list[Change] = []
    for was, part in zip(before, now, strict=True):
        found += _of_part(part.title, was, part)
    return tuple(found)


def _of_part(name: str, was: SheetPart, now: SheetPart) -> list[Change]:
    found = []
    old = {_short(field): field for field in was.fields}
    for field in now.fields:
        other = old.get(_short(field))
        if other is None or not _same(other, field):
            label = f"{name}: {field.label}" if field.label else name
            found.append((label, *_told(other, field)))
    parts = {part.key: part for part in was.parts}
    for part in now.parts:
        label = f"{name}, {part.title}" if part.title else name
        if part.key in parts:
            found += _of_part(label, parts.pop(part.key), part)
        else:
            found.append((label, NOT_THERE, THERE))
    found += [(f"{name}, {part.title}", THERE, NOT_THERE) for part in parts.values()]
    lists = {one.title: one.entries for one in was.lists}
    for one in now.lists:
        found += _of_list(name, one.title, lists.pop(one.title, ()), one.entries)
    for title, entries in lists.items():
        found += _of_list(name, title, entries, ())
    return found


def _of_list(
    name: str, title: str, was: tuple[SheetPart, ...], now: tuple[SheetPart, ...]
) -> list[Change]:
    found: list[Change] = []
    old = {part.key: part for part in was}
    for part in now:
        label = f"{name}, {part.title or title}"
        if part.key in old:
            found += _of_part(label, old[part.key], part)
        else:
            found.append((label, NOT_THERE, _whole(part)))
    keys = {part.key for part in now}
    gone = [part for part in was if part.key not in keys]
    found += [(f"{name}, {part.title or title}", _whole(part), NOT_THERE) for part in gone]
    both = [part.title or part.key for part in was if part.key in keys]
    after = [part.title or part.key for part in now if part.key in old]
    if [part.key for part in was if part.key in keys] != [p.key for p in now if p.key in old]:
        found.append((f"{name}, {title}: order", ", ".join(both), ", ".join(after)))
    return found


def _whole(part: SheetPart) -> str:
    """Return an entry that came or went in one line."""
    if part.title:
        return THERE
    said = [field.shown for field in part.fields if field.shown]
    return " · ".join(said) or THERE


def _short(field: SheetField) -> str:
    return field.field.rpartition(".")[2] if field.label else ""


def _same(was: SheetField, now: SheetField) -> bool:
    if was.si is not None and now.si is not None:
        return math.isclose(was.si, now.si, rel_tol=1e-9, abs_tol=1e-15)
    return was.shown == now.shown


def _told(was: SheetField | None, now: SheetField) -> tuple[str, str]:
    """Return both as shown; as written where rounding would make them one."""
    if was is None:
        return NOT_THERE, now.shown or NOT_THERE
    if was.shown == now.shown and was.value != now.value:
        return was.value, now.value
    if was.shown == now.shown and was.si is not None and now.si is not None:
        return f"{significant(was.si, 6)} SI", f"{significant(now.si, 6)} SI"
    return was.shown or NOT_THERE, now.shown or NOT_THERE
