"""Signing in and out at the desk."""

from collections.abc import Mapping

from benchstation.people import Lockout, Person, check_pin
from benchstation.rebuild.commands import NotAllowedError
from benchstation.station.desk import Desk


def sign_in(desk: Desk, fields: Mapping[str, str]) -> str:
    """Sign in by PIN; wrong ones make the next try wait."""
    desk.person = _checked(desk, fields.get("person", ""), fields.get("pin", ""), "Sign in")
    return f"{desk.person.name} is signed in."


def confirmed_by(desk: Desk, person_id: str, pin: str) -> Person:
    """Give the second person who confirms with a PIN; whoever is signed in is not one."""
    if desk.person is not None and person_id == desk.person.person_id:
        raise NotAllowedError(
            "a second person confirms this, not the one who is signed in.",
            where=desk.person.name,
            advice="Have a colleague look at it and type a PIN.",
        )
    return _checked(desk, person_id, pin, "Second person")


def _checked(desk: Desk, person_id: str, pin: str, where: str) -> Person:
    person = desk.shop.people.get(person_id)
    if person is None:
        raise NotAllowedError("nobody is chosen.", where=where, advice="Choose a name.")
    now = desk.clock.seconds()
    tries = desk.tries.get(person.person_id, Lockout())
    if tries.wait_s(now) > 0:
        raise NotAllowedError(
            f"too many wrong PINs for {person.name}.",
            where=where,
            advice=f"Wait {tries.wait_s(now):.0f} s. Alarms can still be seen and heard.",
        )
    if not check_pin(person, pin):
        desk.tries[person.person_id] = tries.failed(now)
        raise NotAllowedError(
            "this is not the PIN.", where=person.name, advice="Type it again, or ask the lead."
        )
    desk.tries[person.person_id] = tries.passed()
    return person


def sign_out(desk: Desk, fields: Mapping[str, str]) -> str:
    """Sign out; what stands in the step's form is kept for whoever signs in next."""
    desk.keep_typed(fields)
    name = desk.person.name if desk.person else ""
    desk.person = None
    return f"{name} is signed out."
