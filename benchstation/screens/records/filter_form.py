"""The form in which a search is narrowed: a field for each filter, and the searches one keeps."""

from collections.abc import Iterable, Mapping, Sequence

from benchstation.domain.people import Person
from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, TaskView
from benchstation.screens.model.filters import (
    EMPTY,
    FIND,
    FROM,
    LABELS,
    LEAVE,
    REMOVE,
    SAVE_AS,
    SAVED,
    TO,
    Question,
    question_in,
)
from benchstation.screens.records.filtering import CHOICES
from benchstation.store.chain_store import ChainStore
from benchstation.store.notices import saved_searches

NOT_IN_FORM = ("unit", "by")
"""What only other pages ask."""
_PEOPLE = ("accepted", "opened", "signed", "filed")
_HINTS = {FROM: "2026-11, or 2026-11-01", TO: "to its end"}
_ANY = ("", "any")


def filter_form(store: ChainStore, by: Person | None, text: str) -> TaskView:
    """Return the form, filled in as a text asks."""
    saved = saved_searches(store, by.person_id) if by is not None else {}
    return form_of(question_in(text), _choices(store), saved, keeps=by is not None)


def form_of(
    question: Question,
    choices: Mapping[str, Sequence[tuple[str, str]]],
    saved: Mapping[str, str],
    *,
    keeps: bool,
) -> TaskView:
    """Return the form of a question; ``keeps``: whoever is there may save it."""
    fields = []
    for name, label in LABELS.items():
        if name in NOT_IN_FORM:
            continue
        value = question.filters.get(name, "")
        if name in choices:
            fields.append(_choice(name, label, value, choices[name]))
        else:
            fields.append(FieldView(name, label, FieldKind.TEXT, value, _HINTS.get(name, "")))
    if saved:
        kept = ((text, name) for name, text in sorted(saved.items()))
        hint = "where nothing else is chosen"
        fields.append(FieldView(SAVED, "Saved search", FieldKind.CHOICE, "", hint, (_ANY, *kept)))
    if keeps:
        hint = "a name; may stay empty"
        fields.append(FieldView(SAVE_AS, "Save this search as", FieldKind.TEXT, "", hint))
    actions = [
        ActionView(FIND, "Find", "Return", primary=True),
        ActionView(EMPTY, "Empty all", "Ctrl+U"),
        ActionView(LEAVE, "Cancel", "Esc"),
    ]
    if saved:
        actions.insert(2, ActionView(REMOVE, "Remove saved", "Ctrl+D"))
    return TaskView("filters", "Filters", "", fields=tuple(fields), actions=tuple(actions))


def _choices(store: ChainStore) -> Mapping[str, Sequence[tuple[str, str]]]:
    people = sorted((person.name, key) for key, person in store.people().items())
    named = [(key, name) for name, key in people]
    families = sorted({approved.family for approved in store.specifications().values()})
    found: dict[str, Sequence[tuple[str, str]]] = {
        name: [(value, value) for value in values] for name, values in CHOICES.items()
    }
    found |= dict.fromkeys(_PEOPLE, named)
    found["family"] = [(family, family) for family in families]
    return found


def _choice(name: str, label: str, value: str, known: Iterable[tuple[str, str]]) -> FieldView:
    """Return a choice; what was typed and is none of them stands among them."""
    choices = [_ANY, *known]
    if value not in (key for key, _ in choices):
        choices.append((value, value))
    return FieldView(name, label, FieldKind.CHOICE, value, "", tuple(choices))
