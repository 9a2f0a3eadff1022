"""Signing in and out at the desk."""

from collections.abc import Mapping

from benchstation.people import Lockout, check_pin
from benchstation.rebuild.commands import NotAllowedError
from benchstation.station.desk import Desk


def sign_in(desk: Desk, fields: Mapping[str, str]) -> str:
    """Sign in by PIN; wrong ones make the next try wait."""
    person = desk.shop.people.get(fields.get("person", ""))
    if person is None:
        raise NotAllowedError("nobody is chosen.", where="Sign in", advice="Choose your name.")
    now = desk.clock.seconds()
    tries = desk.tries.get(person.person_id, Lockout())
    if tries.wait_s(now) > 0:
        raise NotAllowedError(
            f"too many wrong PINs for {person.name}.",
            where="Sign in",
            advice=f"Wait {tries.wait_s(now):.0f} s. Alarms can still be seen and heard.",
        )
    if not check_pin(person, fields.get("pin", "")):
        desk.tries[person.person_id] = tries.failed(now)
        raise NotAllowedError(
            "this is not the PIN.", where=person.name, advice="Type it again, or ask the lead."
        )
    desk.tries[person.person_id] = tries.passed()
    desk.person = person
    return f"{person.name} is signed in."


def sign_out(desk: Desk, fields: Mapping[str, str]) -> str:
    """Sign out; what stands in the step's form is kept for whoever signs in next."""
    desk.keep_typed(fields)
    name = desk.person.name if desk.person else ""
    desk.person = None
    return f"{name} is signed out."
