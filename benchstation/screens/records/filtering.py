"""What a question's filters mean in the records: ids of people and instruments, keys, times."""

import difflib
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from benchstation.domain.disposition import VERDICTS, Standing
from benchstation.domain.materials import text_key
from benchstation.screens.model.filters import BY, FROM, LABELS, OR, TO, Question
from benchstation.screens.records.instrument_search import LEAST_LETTERS, named_in
from benchstation.screens.records.period import period_in
from benchstation.store.chain_store import ChainStore
from benchstation.store.filters import MOST_NAMES, By, Filters, count_of, names_begun, now_called
from benchstation.store.search import match_of
from benchstation.store.search_projections import lot_key

STATES = ("open", "aside", "filed", "abandoned")
STANDINGS = tuple(standing.value for standing in Standing)
YES, NO = "yes", "no"
CHOICES: Mapping[str, Sequence[str]] = {
    "state": STATES,
    "qa": STANDINGS,
    "verdict": VERDICTS,
    "deviation": (YES, NO),
}
_BEFORE_COLON = re.compile(r"(?<!\S)([^\W\d_]{2,}):")
_BY = {
    "state": By.STATE, "qa": By.STANDING, "verdict": By.VERDICT, "accepted": By.ACCEPTED,
    "opened": By.OPENED, "signed": By.SIGNED, "filed": By.FILED, "family": By.FAMILY,
    "serial": By.SERIAL, "order": By.ORDER, "lot": By.LOT, "part": By.PART,
    "instrument": By.INSTRUMENT, "unit": By.UNIT, "deviation": By.DEVIATION,
    "customer": By.CUSTOMER,
}  # fmt: skip
_NOTES = {"verdict": "A unit filed with a figure that fails or is undecided is a deviation."}
_PEOPLE = ("accepted", "opened", "signed", "filed", "by")


@dataclass(frozen=True, slots=True)
class Meaning:
    """The filters of a question; ``problem``: why nothing can be found by them, in words."""

    filters: Filters = field(default_factory=Filters)
    problem: str = ""


class UnclearError(Exception):
    """A filter's value means nothing on record; its text says so."""


def meaning_of(store: ChainStore, question: Question, names: Mapping[str, str]) -> Meaning:
    """Return what a question's filters mean; ``names`` are those of people by their id."""
    keys: dict[By, tuple[str, ...]] = {}
    without = False
    try:
        since = time_of(question, FROM, 0)
        until = time_of(question, TO, 1)
        if since is not None and until is not None and since >= until:
            raise UnclearError("From lies after To.")
        for name, value in question.filters.items():
            if name in (FROM, TO):
                continue
            found = _keys(store, name, value, names)
            if name == "deviation" and found == (NO,):
                without = True
            elif name != "deviation" or found == (YES,):
                keys[_BY[name]] = found
    except UnclearError as error:
        return Meaning(problem=str(error))
    return Meaning(Filters(keys, since, until, without))


def no_filter_in(words: str) -> str:
    """Return why words that look like a filter are none; empty: none of them looks so.

    A serial may hold a colon too: this is said only where nothing is found.
    """
    like = _BEFORE_COLON.search(words)
    if like is None:
        return ""
    name, known = like[1], [one for one in LABELS if one != BY]
    said = f"Nothing on record is called “{words}”."
    if name.lower() in LABELS:
        return f"{said} The filter “{name}” lacks its value; write it right after the colon."
    said = f"{said} There is no filter “{name}”"
    near = difflib.get_close_matches(name.lower(), known, 1)
    if near:
        return f"{said}; the nearest is “{near[0]}”."
    return f"{said}. Filters are {', '.join(known)}."


def time_of(question: Question, name: str, end: int) -> datetime | None:
    """Return the beginning (``end`` 0) or end (1) of the day or month that a filter names."""
    value = question.filters.get(name)
    if value is None:
        return None
    period = period_in(value)
    if period is None:
        raise UnclearError(f"{LABELS[name]}: “{value}” is no day. Write 2026-11-30 or 2026-11.")
    return period[end]


def _keys(store: ChainStore, name: str, value: str, names: Mapping[str, str]) -> tuple[str, ...]:
    if name == "unit":
        return (value,)
    found: list[str] = []
    for text in value.split(OR):
        found += _one(store, name, text.strip(), names)
    return tuple(dict.fromkeys(found))


def _one(store: ChainStore, name: str, text: str, names: Mapping[str, str]) -> Sequence[str]:
    if name == BY:
        raise UnclearError(
            "By: this narrows the audit trail, not units; write opened, signed, filed or accepted."
        )
    label, by = LABELS[name], _BY[name]
    if name in CHOICES:
        key = text.casefold()
        fitting = [choice for choice in CHOICES[name] if key and choice.startswith(key)]
        if not fitting:
            note = f" {_NOTES[name]}" if name in _NOTES else ""
            known = ", ".join(f'"{choice}"' for choice in CHOICES[name])
            raise UnclearError(f"{label}: write {known}.{note}")
        return fitting
    if name in _PEOPLE:
        # Whoever is on record by an id counts, enrolled here or not.
        there = text not in names and count_of(store, Filters({by: (text,)})).units
        return [text] if there else people_called(label, text, names)
    if name == "instrument":
        if len(text) < LEAST_LETTERS:
            raise UnclearError(f"{label}: at least {LEAST_LETTERS} letters.")
        instruments = named_in(store, text).instruments
        if not instruments:
            raise UnclearError(f"{label}: none on record is called “{text}”.")
        return [one.instrument_id for one in instruments]
    fold: Callable[[str], str] = lot_key if by is By.PART else text_key
    begun = names_begun(store, by, fold(text))
    if by is By.SERIAL:
        begun = list(dict.fromkeys((*begun, *now_called(store, fold(text)))))
    if len(begun) > MOST_NAMES:
        raise UnclearError(f"{label}: more than {MOST_NAMES} begin with “{text}”; type more of it.")
    if not begun:
        raise UnclearError(f"{label}: none on record begins with “{text}”.")
    return begun


def people_called(label: str, text: str, names: Mapping[str, str]) -> Sequence[str]:
    """Return the people whom a text names best: whole names before beginnings.

    Raises :class:`UnclearError` where it names nobody.
    """
    fits = {key: match_of(text, (key, name, *name.split())) for key, name in names.items()}
    matches = {key: match for key, match in fits.items() if match is not None}
    if not matches:
        raise UnclearError(f"{label}: nobody enrolled is called “{text}”.")
    best = min(matches.values())
    return [key for key, match in matches.items() if match is best]


def counted(store: ChainStore, question: Question, filters: Filters) -> str:
    """Return what is asked, and how many units that is."""
    count = count_of(store, filters)
    units = {0: "no unit", 1: "one unit"}.get(count.units, f"{count.units:,} units")
    if count.more:
        units = f"at least {units}"
    return f"{_begun(question.in_words)}: {units}."


def _begun(words: str) -> str:
    return words[:1].upper() + words[1:]
