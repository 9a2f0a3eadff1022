"""Where a filed unit stands now, from its record and all that was said and done since. Pure.

The record of a filed unit is never altered, so it cannot know what QA said later, that the unit
left, or that a field was amended. Screen, paper, label, list, export and search all ask here.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from benchstation.domain.events import (
    CustomerTold,
    Event,
    ReturnExamined,
    UnitAmended,
    UnitDisposed,
    UnitReturned,
    UnitShipped,
)


class Standing(StrEnum):
    """Where a filed unit stands."""

    NOT_RELEASED = "not released yet"
    ON_HOLD = "on hold"
    AWAITS_SECOND = "awaiting second signature"
    RELEASED = "released"
    REJECTED = "rejected"
    RELEASED_ALONE = "released, not independent"
    """By somebody who worked on the unit, where nobody else could do it."""
    REJECTED_ALONE = "rejected, not independent"
    SHIPPED = "shipped"
    SHIPPED_ALONE = "shipped, released not independent"
    SHIPPED_HELD = "shipped, then on hold"
    SHIPPED_REJECTED = "shipped, then rejected"
    SHIPPED_UNRELEASED = "shipped, release withdrawn"
    """It was released as far as the shipper knew; no release is in force."""
    RETURNED = "returned"
    """It came back, and QA has said nothing of it since."""
    SUPERSEDED = "superseded"
    """The same serial was rebuilt again later: this record is no longer what the unit is."""


PASS, DEVIATION = "pass", "deviation"
VERDICTS = (PASS, DEVIATION)
"""What a filed record may be judged: with a figure that did not pass it is a deviation."""
HELD = "held"
RELEASED = "released"
REJECTED = "rejected"
FIRST = "release signed"
"""The first of two signatures for a release: it releases nothing."""
ALONE = " alone"
"""At the end of a word that nobody independent said, or of who confirmed the own reading."""
_SAID = {
    RELEASED: Standing.RELEASED,
    HELD: Standing.ON_HOLD,
    FIRST: Standing.AWAITS_SECOND,
    REJECTED: Standing.REJECTED,
    f"{RELEASED}{ALONE}": Standing.RELEASED_ALONE,
    f"{REJECTED}{ALONE}": Standing.REJECTED_ALONE,
}
_OUT = {
    Standing.RELEASED: Standing.SHIPPED,
    Standing.RELEASED_ALONE: Standing.SHIPPED_ALONE,
    Standing.ON_HOLD: Standing.SHIPPED_HELD,
    Standing.REJECTED: Standing.SHIPPED_REJECTED,
    Standing.REJECTED_ALONE: Standing.SHIPPED_REJECTED,
}
REJECTIONS = frozenset((Standing.REJECTED, Standing.REJECTED_ALONE, Standing.SHIPPED_REJECTED))
RELEASES = frozenset((Standing.RELEASED, Standing.RELEASED_ALONE))
"""Only a unit that stands so may be shipped."""
AT_CUSTOMER = frozenset((*_OUT.values(), Standing.SHIPPED_UNRELEASED))
"""Where it stands while its customer has it."""
STOPPED = frozenset(
    (
        Standing.ON_HOLD,
        Standing.SHIPPED_HELD,
        Standing.SHIPPED_UNRELEASED,
        Standing.RETURNED,
        Standing.SUPERSEDED,
        *REJECTIONS,
    )
)
"""What speaks against a unit comes before its judgement."""
_GOOD = frozenset((Standing.RELEASED, Standing.SHIPPED))
_MEANINGS = {
    RELEASED: "I have examined the whole record and release this unit",
    FIRST: "I have examined the whole record and agree to its release, as the first of two",
    HELD: "I put this unit on hold",
    REJECTED: "I have examined the record and reject this unit",
}


class Notice(StrEnum):
    """What became of the record of a unit while its customer has it."""

    AMENDED = "amended"
    HELD = "on hold"
    REJECTED = "rejected"
    UNRELEASED = "release withdrawn"


_NOTICES = {HELD: Notice.HELD, REJECTED: Notice.REJECTED}
_OF_WORDS = frozenset((Notice.HELD, Notice.REJECTED, Notice.UNRELEASED))


@dataclass(frozen=True, slots=True)
class Course:
    """What was said and done about a filed unit since, as far as its standing goes."""

    word: str = ""
    """QA's last word; empty: the record's own hold rules."""
    before_first: str = ""
    """The word that the first of two signatures came after."""
    out: bool = False
    back: bool = False
    """It came back, and QA has said nothing since."""
    amended: int = 0
    failing: frozenset[str] = frozenset()
    """The fields that as amended fail what they were judged by."""
    notices: frozenset[Notice] = frozenset()
    """What its customer has not been told yet."""


def after(course: Course, event: Event) -> Course:
    """Return the course after one more fact about the unit.

    A judged figure that was amended puts the unit on hold, unless it is rejected. A first of two
    signatures was given for the record as it stood: any amendment takes it away.
    """
    match event:
        case UnitDisposed():
            if event.disposition == FIRST and course.word != FIRST:
                course = replace(course, before_first=course.word)
            return _said(replace(course, back=False), event.disposition)
        case UnitAmended():
            told = course.notices | ({Notice.AMENDED} if course.out else set())
            course = replace(course, amended=course.amended + 1, notices=told)
            if course.word == FIRST:
                before = course.before_first
                course = _said(course, "" if plain_word(before) == RELEASED else before)
            if event.decision:
                fails = {event.field} if event.decision != PASS else set()
                course = replace(course, failing=course.failing - {event.field} | fails)
            rejected = plain_word(course.word) == REJECTED
            return _said(course, HELD) if event.decision and not rejected else course
        case UnitShipped():
            return _said(replace(course, out=True, back=False), course.word)
        case UnitReturned():
            return replace(course, out=False, back=True, notices=frozenset())
        case CustomerTold():
            return replace(course, notices=frozenset())
        case _:
            return course


def _said(course: Course, word: str) -> Course:
    notices = course.notices - _OF_WORDS
    plain = plain_word(word)
    if course.out and plain != RELEASED:
        notices |= {_NOTICES.get(plain, Notice.UNRELEASED)}
    return replace(course, word=word, notices=notices)


def course_of(events: Iterable[Event]) -> Course:
    """Return the course of a unit from what is in force about it, in its order."""
    course = Course()
    for event in events:
        course = after(course, event)
    return course


def standing_in(course: Course, *, qa_hold: bool, superseded: bool = False) -> Standing:
    """Return where a unit stands by its course; ``qa_hold`` is the record's own hold.

    ``superseded``: a later rebuild of its serial is filed. A word that this program does not know
    holds the unit.
    """
    if superseded:
        return Standing.SUPERSEDED
    said = Standing.ON_HOLD if qa_hold else Standing.NOT_RELEASED
    if course.word:
        said = _SAID.get(course.word, Standing.ON_HOLD)
    if course.out:
        return _OUT.get(said, Standing.SHIPPED_UNRELEASED)
    return Standing.RETURNED if course.back else said


def verdict_in(course: Course, as_filed: str) -> str:
    """Return a record's verdict since its amendments: what fails as amended is no pass any more.

    Where QA releases the unit all the same, it was accepted outside a limit: a deviation.
    """
    return DEVIATION if course.failing and as_filed == PASS else as_filed


def standing_of(*, qa_hold: bool, words: Sequence[str]) -> Standing:
    """Return the standing after QA's words alone, in order; the unit did not leave."""
    said = [word for word in words if word]
    return standing_in(Course(said[-1] if said else ""), qa_hold=qa_hold)


def ruling_of(word: str) -> Standing:
    """Return what one word of QA says of a unit."""
    return standing_of(qa_hold=True, words=(word,))


def meaning_of(word: str) -> str:
    """Return in words what a signature under a word of QA means (21 CFR 11.50)."""
    meaning = _MEANINGS.get(plain_word(word), "")
    if meaning and word.endswith(ALONE):
        return f"{meaning}; I worked on it myself, and nobody else could judge it"
    return meaning


def may_look_good(decision: str, standing: Standing) -> bool:
    """Return True when a unit may be shown in green: judged pass, and released by QA."""
    return decision == PASS and standing in _GOOD


def plain_word(word: str) -> str:
    """Return a word of QA without whether somebody independent said it."""
    return word.removesuffix(ALONE)


def notice_text(notices: Iterable[Notice]) -> str:
    """Return what a customer is to be told, in one line; empty: nothing."""
    told = set(notices)
    return ", ".join(notice for notice in Notice if notice in told)


# --- as papers and screens tell it ---------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Ruling:
    """One word of QA on a filed unit, and who said it when; ``meaning`` is what was signed."""

    standing: Standing
    reason: str
    person: str
    utc: datetime
    entry: int
    meaning: str = ""
    batch: str = ""


@dataclass(frozen=True, slots=True)
class Amendment:
    """One amendment, with both values as the record has them and the names of both people.

    ``number`` counts from 1 among those of the unit. ``decision``: see :class:`UnitAmended`.
    """

    number: int
    field: str
    old: str | float
    new: str | float
    reason: str
    person: str
    approved_by: str
    independent: bool
    decision: str
    utc: datetime
    entry: int


@dataclass(frozen=True, slots=True)
class Shipment:
    """One shipment of a unit, and who shipped it; figures as in :class:`UnitShipped`.

    ``to`` is the same with customer and address as they were amended since.
    """

    shipped: UnitShipped
    to: UnitShipped
    person: str
    utc: datetime
    entry: int
    bench: str
    """Whose chain the entry is in: the bench's, or the shop's."""


@dataclass(frozen=True, slots=True)
class Return:
    """A unit that came back: the complaint, and what was found, by whoever looked last."""

    complaint: str
    found: str
    person: str
    utc: datetime
    entry: int
    bench: str


@dataclass(frozen=True, slots=True)
class Superseded:
    """The filing of a later rebuild of the same serial; ``stood``: where the unit stood by then."""

    bench: str
    entry: int
    hash: str
    utc: datetime
    stood: Standing


@dataclass(frozen=True, slots=True)
class Disposition:
    """What became of a unit up to an entry of the journal; later words are not in it."""

    standing: Standing
    rulings: tuple[Ruling, ...]
    told_to_entry: int
    told_to_utc: datetime
    amendments: tuple[Amendment, ...] = ()
    shipments: tuple[Shipment, ...] = ()
    returns: tuple[Return, ...] = ()
    notices: tuple[Notice, ...] = ()
    failing: frozenset[str] = frozenset()
    """The fields that as amended fail what they were judged by."""
    superseded: Superseded | None = None

    def says_the_same(self, other: "Disposition") -> bool:
        """Return True when both say the same of the unit, up to whatever entry."""
        told = (other.told_to_entry, other.told_to_utc)
        return replace(self, told_to_entry=told[0], told_to_utc=told[1]) == other

    def named(self, field: str, as_filed: str) -> str:
        """Return a name of the record as it was amended last; ``as_filed``: it never was."""
        said = [one.new for one in self.amendments if one.field == field]
        return str(said[-1]) if said else as_filed

    @property
    def amended(self) -> str:
        """Return ``amended, 2 of 2``: all amendments are told; empty where there is none."""
        count = len(self.amendments)
        return f"amended, {count} of {count}" if count else ""


ABOUT_UNITS = (UnitDisposed, UnitAmended, UnitShipped, UnitReturned, ReturnExamined, CustomerTold)
"""The facts about a filed unit that are the whole shop's."""
