"""Duties apart: which words take another person, and who could be that other one.

QA judges no unit that QA worked on; whoever wrote a specification does not approve it; what was
read by hand is confirmed by somebody else. Only where nobody else could do it may the one person
sign it twice, with a pause between: it stands as not independent wherever it is shown.
"""

from collections.abc import Collection, Iterable, Mapping

from benchstation.domain.disposition import ABOUT_UNITS, plain_word
from benchstation.domain.events import (
    AlarmChanged,
    AlarmEpisodeRecorded,
    AlarmMuted,
    AlarmResumed,
    CustomerTold,
    DeviationSigned,
    Event,
    HandOverRead,
    RecordShown,
    UnitAmended,
    UnitDisposed,
    UnitEvent,
    UnitResumed,
)
from benchstation.domain.people import Person, Role

NOT_INDEPENDENT = "not independent"
APPROVERS = frozenset((Role.LEAD, Role.QA))
JUDGES = frozenset((Role.QA,))
_NO_WORK = (
    *ABOUT_UNITS,
    RecordShown,
    HandOverRead,
    AlarmChanged,
    AlarmEpisodeRecorded,
    AlarmMuted,
    AlarmResumed,
    UnitResumed,
)
"""What is on record of a unit and is no work on it."""


def worked_on(said: Iterable[tuple[str, Event]]) -> frozenset[str]:
    """Return who worked on a unit: opened, measured, signed, accepted or filed anything of it.

    ``said`` has who put each of the unit's facts on record; who confirmed a reading counts too.
    """
    found = set()
    for person, event in said:
        if isinstance(event, UnitAmended) and event.decision:
            # Whoever put another judged figure on record does not judge by it.
            found |= {person, *confirmers(event)}
        elif isinstance(event, UnitEvent) and not isinstance(event, _NO_WORK):
            found |= {person, *confirmers(event)}
    return frozenset(found - {""})


def confirmers(event: Event) -> tuple[str, ...]:
    """Return who confirmed a fact with whoever put it on record."""
    by_hand = getattr(event, "by_hand", None)
    said = (getattr(event, "approved_by", ""), by_hand.confirmed_by if by_hand is not None else "")
    return tuple(plain_word(one) for one in said if one)


def roles_for(event: Event, *, confirming: bool = False) -> frozenset[Role]:
    """Return the roles of which one is needed to put such a fact of a unit on record.

    ``confirming``: those of who confirms it.
    """
    match event:
        case UnitDisposed():
            return JUDGES
        case UnitAmended() | CustomerTold() | DeviationSigned():
            return APPROVERS
        case UnitEvent() if not isinstance(event, _NO_WORK) and not confirming:
            return frozenset((Role.TECHNICIAN, Role.LEAD))
        case _:
            return frozenset(Role)


def others(
    people: Mapping[str, Person], roles: Collection[Role], without: Collection[str]
) -> tuple[Person, ...]:
    """Return who could do it: everyone here with one of ``roles`` but for those ``without``."""
    return tuple(
        person
        for person in people.values()
        if person.can_sign_in and person.has(*roles) and person.person_id not in without
    )


def names_of(people: Iterable[Person]) -> str:
    """Return the names, at most three of them."""
    names = sorted(person.name for person in people)
    return " or ".join(names[:3])
