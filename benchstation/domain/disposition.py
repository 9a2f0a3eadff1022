"""QA's standing of a filed unit: what holds now, from its record and all that was said since.

The record of a filed unit is never altered, so it cannot know what QA said later. Screen, paper,
label, export and search all ask here.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Standing(StrEnum):
    """Where QA stands on a filed unit."""

    NOT_RELEASED = "not released yet"
    ON_HOLD = "on hold"
    RELEASED = "released"
    REJECTED = "rejected"
    RELEASED_ALONE = "released, not independent"
    """By somebody who worked on the unit, where nobody else could do it."""
    REJECTED_ALONE = "rejected, not independent"


HELD = "held"
ALONE = " alone"
"""At the end of a word that nobody independent said, or of who confirmed the own reading."""
_SAID = {
    "released": Standing.RELEASED,
    HELD: Standing.ON_HOLD,
    "rejected": Standing.REJECTED,
    f"released{ALONE}": Standing.RELEASED_ALONE,
    f"rejected{ALONE}": Standing.REJECTED_ALONE,
}
REJECTIONS = frozenset((Standing.REJECTED, Standing.REJECTED_ALONE))


@dataclass(frozen=True, slots=True)
class Ruling:
    """One word of QA on a filed unit, and who said it when."""

    standing: Standing
    reason: str
    person: str
    utc: datetime
    entry: int


@dataclass(frozen=True, slots=True)
class Disposition:
    """What QA said of a unit up to an entry of the journal; later words are not in it."""

    standing: Standing
    rulings: tuple[Ruling, ...]
    told_to_entry: int
    told_to_utc: datetime


def standing_of(*, qa_hold: bool, words: Sequence[str]) -> Standing:
    """Return the standing after QA's words in order; without any, the record's own hold rules.

    A word that this program does not know holds the unit.
    """
    said = [word for word in words if word]
    if said:
        return _SAID.get(said[-1], Standing.ON_HOLD)
    return Standing.ON_HOLD if qa_hold else Standing.NOT_RELEASED


def ruling_of(word: str) -> Standing:
    """Return what one word of QA says of a unit."""
    return standing_of(qa_hold=True, words=(word,))


def may_look_good(decision: str, standing: Standing) -> bool:
    """Return True when a unit may be shown in green: judged pass, and released by QA."""
    return decision == "pass" and standing is Standing.RELEASED


def plain_word(word: str) -> str:
    """Return a word of QA without whether somebody independent said it."""
    return word.removesuffix(ALONE)
