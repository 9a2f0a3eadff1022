"""Signing in and out at the bench, by PIN or badge, and handing the keyboard over."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchstation.bench.commands.parsing import named, secret
from benchstation.bench.messages import Message
from benchstation.bench.session import BenchSession, Command
from benchstation.bench.signed_in import (
    AT_SECOND,
    AT_SIGN_IN,
    BADGES,
    BY_BADGE,
    BY_HAND,
    BY_PIN,
    REPLACED,
    too_many,
)
from benchstation.domain.events import PersonSignedIn, PersonSignedOut
from benchstation.domain.people import (
    TEXTS,
    Person,
    Role,
    badge_marked,
    badge_owners,
    check_pin,
)
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.notation import fixed

NO_TEXT = "A badge is no text: the field is as it was before the scan."


@dataclass(frozen=True, slots=True)
class SignIn(Command):
    """Sign in by PIN, or by a badge in its place; wrong ones make the next try wait."""

    signed_in = False
    person_id: str = named("person", default="")
    secret: str = secret("pin", default="")

    def __call__(self, session: BenchSession) -> Message:
        person = session.shop.people.get(self.person_id)
        if person is None or person.left:
            if not self.secret.strip():
                raise NotAllowedError(
                    "nobody is chosen.",
                    where="Sign in",
                    advice="Choose your name, or scan your badge.",
                )
            return Message(_by_badge(session, self.secret))
        wait_s = _wait_s(session, person.person_id)
        if wait_s <= 0 and check_pin(person, self.secret):
            session.signed_in.forget_wrong(person.person_id)
            return Message(change_person(session, person, BY_PIN))
        # A wrong PIN may be someone's badge, scanned while another name was chosen.
        owner = _owner(session, self.secret) if _wait_s(session, BADGES) <= 0 else None
        if owner is not None:
            return Message(change_person(session, owner, BY_BADGE))
        _count(session, person.person_id if wait_s <= 0 else BADGES)
        raise too_many(person, wait_s, "Sign in") if wait_s > 0 else _wrong(person)


def _wrong(person: Person) -> NotAllowedError:
    return NotAllowedError(
        "this is not the PIN.", where=person.name, advice="Type it again, or ask the lead."
    )


def confirmed_by(session: BenchSession, person_id: str, pin: str) -> Person:
    """Return the second person who confirms with a PIN; whoever is signed in is not one."""
    where = "Second person"
    person = session.shop.people.get(person_id)
    if person is None or person.left:
        raise NotAllowedError("nobody is chosen.", where=where, advice="Choose a name.")
    if session.person is not None and person_id == session.person.person_id:
        raise NotAllowedError(
            "a second person confirms this, not the one who is signed in.",
            where=session.person.name,
            advice="Have a colleague look at it and type a PIN.",
        )
    if not session.proves(person, pin, AT_SECOND):
        raise _wrong(person)
    return person


@dataclass(frozen=True, slots=True)
class ScanBadge(Command):
    """Sign in whose badge was scanned, at any step; the own one changes nothing.

    Where it may be something else that is no wrong try: nothing is said then. Whose badge it is
    counts even while none is taken, so that it never stays where text goes.
    """

    signed_in = False
    badge: str = secret(default="")
    otherwise: str = named("or", default="")
    """What it may be else; empty: nothing."""

    def __call__(self, session: BenchSession) -> Message:
        if not self.otherwise or _owner(session, self.badge) is not None:
            said = _by_badge(session, self.badge)
            return Message(f"{said} {NO_TEXT}" if self.otherwise == TEXTS else said)
        if session.person is None and badge_marked(
            session.shop.people.values(), self.badge, session.shop.badge_salts
        ):
            # Nobody may guess so: of 256 wrong ones one has somebody's mark.
            _count(session, BADGES)
        return Message()


def _by_badge(session: BenchSession, text: str) -> str:
    wait_s = _wait_s(session, BADGES)
    if wait_s > 0:
        raise NotAllowedError(
            "too many unknown badges.",
            where="Sign in",
            advice=f"Wait {fixed(wait_s, 0)} s, or sign in by PIN.",
        )
    owner = _owner(session, text)
    if owner is None:
        _count(session, BADGES)
        raise NotAllowedError(
            "this badge is not known here.",
            where="Sign in",
            advice="Sign in by PIN, and register it on the People page.",
        )
    session.signed_in.forget_wrong(BADGES)
    return change_person(session, owner, BY_BADGE)


def _owner(session: BenchSession, text: str) -> Person | None:
    people = session.shop.people.values()
    owners = list(badge_owners(people, text, session.shop.badge_salts))
    if len(owners) > 1:
        names = " and ".join(person.name for person in owners)
        raise NotAllowedError(
            f"this badge is registered for {names}.",
            where="Sign in",
            advice="Sign in by PIN; one of you registers another badge on the People page.",
        )
    return owners[0] if owners else None


def _wait_s(session: BenchSession, whose: str) -> float:
    return session.signed_in.wait_s(whose, session.clock.seconds())


def _count(session: BenchSession, whose: str) -> None:
    """Count a wrong try, but none while none is taken: nobody floods the record by guessing."""
    if _wait_s(session, whose) > 0:
        return
    session.signed_in.count_wrong(whose, session.clock.seconds())
    session.note_wrong(whose, AT_SIGN_IN)


def change_person(session: BenchSession, person: Person | None, how: str) -> str:
    """Change who is signed in, or sign out, on record with how. What runs continues.

    What was asked for and has not happened is taken back where the next may not ask for it.
    """
    before = session.person
    if before is not None and person is not None and before.person_id == person.person_id:
        session.signed_in.become(person)
        return f"{person.name} is signed in already."
    if before is not None:
        session.note(PersonSignedOut(before.person_id, how if person is None else REPLACED))
    session.signed_in.become(person)
    if person is not None:
        session.note(PersonSignedIn(person.person_id, how))
    undone = take_back_asked(session)
    out = f"{before.name} is signed out." if before is not None else ""
    if person is None:
        return f"{out}{undone}"
    return f"{person.name} is signed in. {out}{undone}".rstrip()


def take_back_asked(session: BenchSession) -> str:
    """Take back what was asked for where whoever is here now may not ask for it; say so."""
    may = session.person is not None and session.person.has(Role.TECHNICIAN, Role.LEAD)
    if may or not session.work.requested:
        return ""
    session.work.stop()
    return " What was requested is cancelled."


@dataclass(frozen=True, slots=True)
class SwitchPerson(Command):
    """Show the sign-in form beside the running step; nothing stops for it."""

    def __call__(self, session: BenchSession) -> Message:
        session.signed_in.show_form()
        return Message("Scan a badge, or choose a name and type the PIN. Nothing stops meanwhile.")


@dataclass(frozen=True, slots=True)
class Stay(Command):
    """Leave the sign-in form; who was signed in goes on."""

    def __call__(self, session: BenchSession) -> Message:
        session.signed_in.leave_form()
        return Message(f"{session.person.name if session.person else 'Nobody'} continues.")


@dataclass(frozen=True, slots=True)
class SignOut(Command):
    """Sign out; the unit and what stands in the step's form are kept for whoever comes next."""

    form: Mapping[str, str] = field(default_factory=dict)

    def __call__(self, session: BenchSession) -> Message:
        session.work.keep_typed(self.form)
        return Message(change_person(session, None, BY_HAND))
