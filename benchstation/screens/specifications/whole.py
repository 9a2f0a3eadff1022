"""A whole specification to be read by who approves it: every figure, and what it was before."""

from collections.abc import Iterator, Mapping

from benchstation.screens.model.elements import TermGroup, TermView
from benchstation.screens.model.specifications import SheetKind, SheetPart

Change = tuple[str, str, str]


def whole(parts: tuple[SheetPart, ...], changed: tuple[Change, ...]) -> tuple[TermGroup, ...]:
    """Return all that a specification says, in its order; what differs is strong and says so."""
    before = {name: was for name, was, _ in changed}
    return tuple(group for part in parts for group in _groups(part.title, part, before))


def _groups(name: str, part: SheetPart, before: Mapping[str, str]) -> Iterator[TermGroup]:
    """Yield the part itself with its tables and lists, then each step of a route.

    ``name`` is what changes call it.
    """
    terms = [*_terms(name, part, before)]
    for inner in part.parts:
        terms += _terms(f"{name}, {inner.title}", inner, before)
        for one in inner.lists:
            terms += _listed(f"{name}, {inner.title}", one.title, one.entries, before)
    steps = [one for one in part.lists if one.field == "steps"]
    for one in part.lists:
        if one not in steps:
            terms += _listed(name, one.title, one.entries, before)
    if terms:
        yield TermGroup(name.removeprefix("Route, "), tuple(terms))
    for one in steps:
        for place, step in enumerate(one.entries, 1):
            for group in _groups(f"{name}, {step.title}", step, before):
                yield TermGroup(f"{place}  {group.title}", group.terms)


def _terms(name: str, part: SheetPart, before: Mapping[str, str]) -> Iterator[TermView]:
    for field in part.fields:
        label = f"{name}: {field.label}"
        if field.kind is SheetKind.CHECK and field.shown == "no" and label not in before:
            continue
        if field.shown or label in before:
            yield _term(field.label, field.shown, before.get(label))


def _listed(
    name: str, title: str, entries: tuple[SheetPart, ...], before: Mapping[str, str]
) -> Iterator[TermView]:
    for place, entry in enumerate(entries, 1):
        said = [f.shown for f in entry.fields if f.shown and f.shown not in ("yes", "no")]
        said += [
            field.shown for one in entry.lists for inner in one.entries for field in inner.fields
        ]
        what = f"{name}, {entry.title or title}"
        was = next((old for label, old in before.items() if label.startswith(what)), None)
        label = f"{entry.title or title} {place}" if len(entries) > 1 else entry.title or title
        yield _term(label, " · ".join(said), was)


def _term(label: str, value: str, was: str | None) -> TermView:
    return TermView(label, value, f"was {was}" if was else "", strong=was is not None)
