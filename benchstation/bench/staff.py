"""The people of the shop, folded from what is on record about each."""

from collections.abc import Iterable
from dataclasses import replace

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
from benchstation.domain.rebuild import Fact
from benchstation.domain.shop_chain import Subject
from benchstation.store.chain_store import ChainStore


def facts_about_people(store: ChainStore) -> list[Fact]:
    """Return what holds of people, in its order: what the shop says, then how each likes it here.

    How somebody likes a bench is that bench's own.
    """
    liked = store.entries(kind=PersonPrefers.kind)
    return [*store.facts(Subject.PERSON), *liked]


def people_from(store: ChainStore) -> dict[str, Person]:
    """Return everyone who was ever enrolled."""
    people: dict[str, Person] = {}
    for fact in facts_about_people(store):
        take(people, fact.event)
    return people


def take(people: dict[str, Person], event: Event) -> None:
    """Bring ``people`` up to date with one more fact about one of them."""
    match event:
        case PersonEnrolled():
            known = people.get(event.person_id, Person(event.person_id, "", frozenset()))
            roles = frozenset(Role(role) for role in event.roles)
            people[event.person_id] = replace(
                known, name=event.name, roles=roles, pin_hash=event.pin_hash, left=False
            )
        case PersonLeft() | BadgeRegistered() | PersonPrefers() if event.person_id not in people:
            # Another person's now, by what was settled in the shop.
            return
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


def badge_events(badges: Iterable[tuple[str, str]], salt: str, cost: int = 0) -> list[Event]:
    """Return the facts that make badges people's, (person, text) each; the salt first if new."""
    made = salt or new_badge_salt()
    events: list[Event] = [] if salt else [BadgeSaltMade(made)]
    return events + [
        BadgeRegistered(who, badge_mark(text, made), hash_badge(text, cost)) for who, text in badges
    ]


def leads(people: dict[str, Person]) -> set[str]:
    """Return the ids of the bench leads who can sign in."""
    return {p.person_id for p in people.values() if p.has(Role.LEAD) and p.can_sign_in}
