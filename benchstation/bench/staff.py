"""The people of the shop, folded from what is on record about each."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Protocol

from benchstation.domain.events import (
    BadgeRegistered,
    BadgeSaltMade,
    Event,
    PersonEnrolled,
    PersonLeft,
    PersonPrefers,
)
from benchstation.domain.people import (
    DisplayPreferences,
    Person,
    Role,
    badge_mark,
    hash_badge,
    new_badge_salt,
)
from benchstation.store.journal import Entry

KINDS = (PersonEnrolled, PersonLeft, BadgeRegistered, PersonPrefers)


class Journal(Protocol):
    """What is read of a journal."""

    def entries(self, *, kind: str) -> Sequence[Entry]:
        """Return all entries of a kind, in their order."""


def entries_about_people(journal: Journal) -> list[Entry]:
    """Return every entry about people, in the order in which they were written."""
    found = [entry for kind in KINDS for entry in journal.entries(kind=kind.kind)]
    return sorted(found, key=lambda entry: entry.seq)


def people_from(journal: Journal) -> tuple[dict[str, Person], str]:
    """Return everyone who was ever enrolled, and the salt of the shop's badges."""
    people: dict[str, Person] = {}
    for entry in entries_about_people(journal):
        take(people, entry.event)
    made = (entry.event for entry in journal.entries(kind=BadgeSaltMade.kind))
    salts = [event.salt for event in made if isinstance(event, BadgeSaltMade)]
    return people, salts[-1] if salts else ""


def take(people: dict[str, Person], event: Event) -> None:
    """Bring ``people`` up to date with one more fact about one of them."""
    match event:
        case PersonEnrolled():
            known = people.get(event.person_id, Person(event.person_id, "", frozenset()))
            roles = frozenset(Role(role) for role in event.roles)
            people[event.person_id] = replace(
                known, name=event.name, roles=roles, pin_hash=event.pin_hash, left=False
            )
        case PersonLeft():
            # A badge that is handed in may be another's tomorrow.
            gone = replace(people[event.person_id], left=True, badge_mark="", badge_hash="")
            people[event.person_id] = gone
        case BadgeRegistered():
            people[event.person_id] = replace(
                people[event.person_id], badge_mark=event.mark, badge_hash=event.badge_hash
            )
        case PersonPrefers():
            liked = DisplayPreferences(event.units, event.lights, event.text_scale, event.pour_tone)
            people[event.person_id] = replace(people[event.person_id], preferences=liked)


def badge_events(badges: Iterable[tuple[str, str]], salt: str) -> list[Event]:
    """Return the facts that make badges people's, (person, text) each; the salt first if new."""
    made = salt or new_badge_salt()
    events: list[Event] = [] if salt else [BadgeSaltMade(made)]
    return events + [
        BadgeRegistered(who, badge_mark(text, made), hash_badge(text)) for who, text in badges
    ]


def leads(people: dict[str, Person]) -> set[str]:
    """Return the ids of the bench leads who can sign in."""
    return {p.person_id for p in people.values() if p.has(Role.LEAD) and p.can_sign_in}
