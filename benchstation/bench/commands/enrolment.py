"""Enrolling people and taking them off, roles, PINs, badges, and how each likes the bench."""

import re
import unicodedata
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from benchstation.bench.commands.parsing import made_from, named, secret
from benchstation.bench.commands.qa_roles import gains_qa, qa_confirms
from benchstation.bench.commands.signing_in import take_back_asked
from benchstation.bench.judging import tried
from benchstation.bench.messages import Message
from benchstation.bench.session import LEADS, BenchSession, Command, SignedCommand
from benchstation.bench.staff import badge_events, leads
from benchstation.domain.events import (
    BadgeRegistered,
    Event,
    PersonEnrolled,
    PersonLeft,
    PersonPrefers,
)
from benchstation.domain.inputs.given import YES
from benchstation.domain.people import (
    DisplayPreferences,
    Person,
    Role,
    badge_owner,
    hash_pin,
)
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import UnitSystem

PEOPLE = "People"
LONGEST_NAME = 200
SCALES = (100, 150)
THEMES = ("dark", "light")
BENCH = "bench"
"""Chosen for what is to be as the bench has it."""


def _roles(form: Mapping[str, str]) -> frozenset[Role]:
    return frozenset(role for role in Role if form.get(role.value) == YES)


@dataclass(frozen=True, slots=True)
class Enrol(SignedCommand):
    """Enrol someone; the new person types the first PIN twice."""

    roles = LEADS
    name: str
    pin: str = secret()
    pin_again: str = secret()
    given: frozenset[Role] = made_from(_roles)
    confirmed_by: str = named("confirmed_by", default="")
    confirm_pin: str = secret(default="")

    def __call__(self, session: BenchSession) -> Message:
        name = self._name(session)
        roles, pin_hash = _named(self.given), _new_pin(self.pin, self.pin_again)
        person_id = free_id(name, session.shop.people)
        qa = qa_confirms(session, self, person_id, qa=gains_qa(None, self.given))
        if qa.waits:
            return Message(qa.waits)
        _record(session, [PersonEnrolled(person_id, name, roles, pin_hash), *qa.facts])
        return Message(f"{name} is enrolled.")

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        return tried(lambda: self._name(session))

    def _name(self, session: BenchSession) -> str:
        name = " ".join(self.name.split())
        if not name or not name.isprintable() or len(name) > LONGEST_NAME:
            raise _refused(
                "the name is missing or cannot be printed.",
                "Type it as people will read it.",
                "name",
            )
        same = [p for p in session.shop.people.values() if p.name.casefold() == name.casefold()]
        if same:
            raise _refused(
                f"{same[0].name} {'was' if same[0].left else 'is'} enrolled already.",
                "Enrol the person again on that row."
                if same[0].left
                else "Add what tells the two apart, such as a second name.",
                "name",
            )
        return name


@dataclass(frozen=True, slots=True)
class EnrolAgain(SignedCommand):
    """Enrol someone anew who had left, under the same name."""

    roles = LEADS
    person_id: str = named("person")
    pin: str = secret()
    pin_again: str = secret()
    given: frozenset[Role] = made_from(_roles)
    confirmed_by: str = named("confirmed_by", default="")
    confirm_pin: str = secret(default="")

    def __call__(self, session: BenchSession) -> Message:
        person = _person(session, self.person_id)
        if not person.left:
            raise _refused(f"{person.name} is enrolled.", "Change the roles instead.")
        pin_hash, roles = _new_pin(self.pin, self.pin_again), _named(self.given)
        gains = gains_qa(person, self.given)
        qa = qa_confirms(session, self, person.person_id, qa=gains)
        if qa.waits:
            return Message(qa.waits)
        enrolled = PersonEnrolled(person.person_id, person.name, roles, pin_hash)
        _record(session, [enrolled, *qa.facts])
        return Message(f"{person.name} is enrolled again.")


@dataclass(frozen=True, slots=True)
class ChangeRoles(SignedCommand):
    """Change someone's roles."""

    roles = LEADS
    person_id: str = named("person")
    given: frozenset[Role] = made_from(_roles)
    confirmed_by: str = named("confirmed_by", default="")
    confirm_pin: str = secret(default="")

    def __call__(self, session: BenchSession) -> Message:
        person, roles = _here(session, self.person_id), _named(self.given)
        if Role.LEAD not in self.given:
            _keep_a_lead(session, person)
        gains = gains_qa(person, self.given)
        qa = qa_confirms(session, self, person.person_id, qa=gains)
        if qa.waits:
            return Message(qa.waits)
        enrolled = PersonEnrolled(person.person_id, person.name, roles, person.pin_hash)
        _record(session, [enrolled, *qa.facts])
        return Message(f"{person.name} is {' and '.join(roles)} now.")


@dataclass(frozen=True, slots=True)
class ResetPin(SignedCommand):
    """Let someone whose PIN is lost type a new one twice."""

    roles = LEADS
    person_id: str = named("person")
    pin: str = secret()
    pin_again: str = secret()
    confirmed_by: str = named("confirmed_by", default="")
    confirm_pin: str = secret(default="")

    def __call__(self, session: BenchSession) -> Message:
        person = _here(session, self.person_id)
        pin_hash = _new_pin(self.pin, self.pin_again)
        qa = qa_confirms(session, self, person.person_id, qa=person.has(Role.QA))
        if qa.waits:
            return Message(qa.waits)
        _set_pin(session, person, pin_hash, *qa.facts)
        session.signed_in.forget_wrong(person.person_id)
        return Message(f"{person.name} has a new PIN.")


@dataclass(frozen=True, slots=True)
class TakeOff(SignedCommand):
    """Let someone sign here no longer; all that was signed stays on record."""

    roles = LEADS
    reason: str
    person_id: str = named("person")

    def __call__(self, session: BenchSession) -> Message:
        person = _here(session, self.person_id)
        if not self.reason:
            raise _refused("this needs a reason.", "Say why in a few words.", "reason")
        _keep_a_lead(session, person)
        _record(session, [PersonLeft(person.person_id, self.reason)])
        said = f"{person.name} has left: no more sign-in here; what {person.name} signed stays."
        return Message(said)


@dataclass(frozen=True, slots=True)
class ChangePin(Command):
    """Change the own PIN; the old one is asked, and wrong ones make wait."""

    old: str = secret()
    pin: str = secret()
    pin_again: str = secret()

    def __call__(self, session: BenchSession) -> Message:
        person = _self(session)
        if person.pin_hash:
            session.sign(self.old, "old")
        _set_pin(session, person, _new_pin(self.pin, self.pin_again, "the new PINs"))
        return Message("Your PIN is changed.")


@dataclass(frozen=True, slots=True)
class RegisterBadge(SignedCommand):
    """Make a badge the own one; it is scanned twice."""

    badge: str = secret()
    badge_again: str = secret()

    def __call__(self, session: BenchSession) -> Message:
        person = _self(session)
        text = _twice(self.badge, self.badge_again, "the two scans", "badge").strip()
        owner = badge_owner(session.shop.people.values(), text, session.shop.badge_salts)
        if owner is not None and owner.person_id != person.person_id:
            raise _refused(f"this is {owner.name}'s badge.", "Use another one.")
        salt = next(iter(session.shop.badge_salts), "")
        _record(session, badge_events([(person.person_id, text)], salt))
        return Message("This badge signs you in from now on.")


@dataclass(frozen=True, slots=True)
class DropBadge(Command):
    """Let a badge sign in no longer: the own one, or as a lead someone's."""

    person_id: str = named("person", default="")

    def __call__(self, session: BenchSession) -> Message:
        mine = _self(session)
        person = _here(session, self.person_id) if self.person_id else mine
        if person.person_id != mine.person_id and not mine.has(Role.LEAD):
            raise _refused(
                f"this is {person.name}'s badge.", "The owner or a bench lead takes it away."
            )
        if not person.badge_hash:
            raise _refused(f"{person.name} has no badge.", "Nothing was changed.")
        if not person.pin_hash:
            raise _refused("it is the only way to sign in.", "Set a PIN first.")
        _record(session, [BadgeRegistered(person.person_id, "", "")])
        return Message(f"The badge of {person.name} signs in no longer.")


@dataclass(frozen=True, slots=True)
class Prefer(Command):
    """Keep how the person likes to see and hear the bench; what is not named stays."""

    units: str | None = named("preferred_units", default=None)
    theme: str | None = None
    text_scale: str | None = None
    pour_tone: str | None = None

    def __call__(self, session: BenchSession) -> Message:
        person = _self(session)
        liked = self._liked(person.preferences)
        if liked != person.preferences:
            chosen = (liked.units, liked.theme, liked.text_scale, liked.pour_tone)
            _record(session, [PersonPrefers(person.person_id, *chosen)])
        return Message("Saved for the next time you sign in.")

    def _liked(self, liked: DisplayPreferences) -> DisplayPreferences:
        """Return the preferences with what is named changed; raise for a choice that is none."""
        units, theme = _chosen(self.units, liked.units), _chosen(self.theme, liked.theme)
        if units not in ("", *UnitSystem) or theme not in ("", *THEMES):
            raise _refused("there is no such choice.", "Choose one of those shown.")
        scale = _chosen(self.text_scale, str(liked.text_scale)) or "0"
        size = int(scale) if scale.isascii() and scale.isdigit() and len(scale) < 4 else -1
        if size and not SCALES[0] <= size <= SCALES[1]:
            raise _refused("the text size is out of range.", "Use 100 to 150 %.")
        heard = {"on": True, "off": False}
        tone = liked.pour_tone if self.pour_tone is None else heard.get(self.pour_tone)
        return DisplayPreferences(units, theme, size, tone)


def _chosen(text: str | None, now: str) -> str:
    """Return what was chosen; empty is as the bench has it."""
    return now if text is None else "" if text == BENCH else text


def _record(session: BenchSession, events: Sequence[Event]) -> None:
    """Journal, then bring who is signed in up to date."""
    session.journal(events)
    if session.person is not None:
        session.signed_in.refresh(session.shop.people)
        take_back_asked(session)


def _set_pin(session: BenchSession, person: Person, pin_hash: str, *beside: Event) -> None:
    roles = tuple(role.value for role in Role if role in person.roles)
    _record(session, [PersonEnrolled(person.person_id, person.name, roles, pin_hash), *beside])


def _self(session: BenchSession) -> Person:
    assert session.person is not None
    return session.person


def _person(session: BenchSession, person_id: str) -> Person:
    person = session.shop.people.get(person_id)
    if person is None:
        raise _refused("nobody is chosen.", "Choose a name in the list.")
    return person


def _here(session: BenchSession, person_id: str) -> Person:
    person = _person(session, person_id)
    if person.left:
        raise _refused(f"{person.name} has left.", "Enrol the person again first.")
    return person


def _keep_a_lead(session: BenchSession, person: Person) -> None:
    """Refuse what would leave nobody who can enrol people."""
    if leads(session.shop.people) <= {person.person_id}:
        raise _refused(
            f"{person.name} is the last bench lead who can sign in.",
            "Make someone else bench lead first.",
        )


def _named(roles: frozenset[Role]) -> tuple[str, ...]:
    named = tuple(role.value for role in Role if role in roles)
    if not named:
        raise _refused("no role is chosen.", "Choose at least one.", Role.TECHNICIAN.value)
    return named


def _new_pin(pin: str, again: str, words: str = "the PINs") -> str:
    return hash_pin(_twice(pin, again, words, "pin"))


def _twice(first: str, second: str, words: str, field: str) -> str:
    if first != second:
        said = f"{words} are not the same; nothing was changed."
        raise _refused(said, "Do both once more.", field)
    return first


def free_id(name: str, taken: Collection[str]) -> str:
    """Return an id from the name that nobody has or had."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().casefold()
    stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40] or "person"
    number, found = 1, stem
    while found in taken:
        number += 1
        found = f"{stem}-{number}"
    return found


def _refused(what: str, advice: str, field: str = "") -> NotAllowedError:
    return NotAllowedError(what, where=PEOPLE, advice=advice, field=field)
