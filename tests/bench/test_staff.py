"""Whatever happened to people is the same folded at once or one by one, and never says the PIN."""

from hypothesis import given
from hypothesis import strategies as st

from benchstation.bench.staff import badge_events, leads, take
from benchstation.domain.events import (
    BadgeRegistered,
    BadgeSaltMade,
    PersonEnrolled,
    PersonLeft,
    PersonPrefers,
)
from benchstation.domain.people import Person

IDS = st.sampled_from(["a", "b"])
ROLES = st.lists(st.sampled_from(["technician", "lead", "qa"]), unique=True).map(tuple)
FACTS = st.lists(
    st.one_of(
        st.builds(PersonEnrolled, IDS, st.just("N"), ROLES, st.sampled_from(["", "hash"])),
        st.builds(PersonLeft, IDS, st.just("r")),
        st.builds(BadgeRegistered, IDS, st.just("5b"), st.sampled_from(["", "hash"])),
        st.builds(PersonPrefers, IDS, st.sampled_from(["", "metric"])),
    ),
    max_size=12,
)
FIRST = [PersonEnrolled(who, who, ("lead",), "hash") for who in ("a", "b")]


def folded(facts) -> dict[str, Person]:
    people: dict[str, Person] = {}
    for fact in (*FIRST, *facts):
        take(people, fact)
    return people


@given(FACTS)
def test_the_last_word_on_each_counts(facts):
    people = folded(facts)
    for who, person in people.items():
        about = [fact for fact in (*FIRST, *facts) if fact.person_id == who]
        there = [f for f in about if isinstance(f, PersonEnrolled | PersonLeft)][-1]
        assert person.left == isinstance(there, PersonLeft)
        enrolled = [f for f in about if isinstance(f, PersonEnrolled)][-1]
        assert {role.value for role in person.roles} == set(enrolled.roles)
        liked = [f.units for f in about if isinstance(f, PersonPrefers)]
        assert person.preferences.units == (liked[-1] if liked else "")
        badges = [f for f in about if isinstance(f, BadgeRegistered | PersonLeft)]
        last = badges[-1] if badges else None
        assert person.badge_hash == (last.badge_hash if isinstance(last, BadgeRegistered) else "")


@given(FACTS)
def test_whoever_left_or_has_no_way_in_is_no_lead_that_counts(facts):
    people = folded(facts)
    for who in leads(people):
        assert people[who].can_sign_in
        assert not people[who].left


def test_the_salt_is_made_once():
    salt, first, second = badge_events([("a", "badge-1"), ("b", "badge-2")], "")
    assert isinstance(salt, BadgeSaltMade)
    (again,) = badge_events([("a", "badge-1")], salt.salt)
    assert again.mark == first.mark
    assert again.badge_hash != first.badge_hash, "each hash has a salt of its own"
    assert "badge" not in f"{first}{second}".replace("badge_hash", "").replace("Badge", "")
