"""Signing in and out at the desk, by PIN or badge, and handing the keyboard over."""

from collections.abc import Mapping

from benchstation.screens.model.bench import TEXTS
from benchstation.domain.people import Lockout, Person, Role, badge_marked, badge_owner, check_pin
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.bench.commands import capturing
from benchstation.bench.session import Desk
from benchstation.bench.capture.weighing import Phase

NO_TEXT = "A badge is no text: the field is as it was before the scan."
BADGES = ""
"""Under this name wrong badges are counted, which are nobody's."""


def sign_in(desk: Desk, fields: Mapping[str, str]) -> str:
    """Sign in by PIN, or by a badge in its place; wrong ones make the next try wait."""
    secret = fields.get("pin", "")
    person = desk.shop.people.get(fields.get("person", ""))
    if person is None or person.left:
        if not secret.strip():
            raise NotAllowedError(
                "nobody is chosen.", where="Sign in", advice="Choose your name, or scan your badge."
            )
        return _by_badge(desk, secret)
    wait_s = _wait_s(desk, person.person_id)
    if wait_s <= 0 and check_pin(person, secret):
        desk.tries[person.person_id] = Lockout()
        return hand_over(desk, person)
    # A wrong PIN may be someone's badge, scanned while another name was chosen.
    owner = _owner(desk, secret) if _wait_s(desk, BADGES) <= 0 else None
    if owner is not None:
        return hand_over(desk, owner)
    _count(desk, person.person_id if wait_s <= 0 else BADGES)
    raise _refused(person, wait_s, "Sign in")


def _refused(person: Person, wait_s: float, where: str) -> NotAllowedError:
    if wait_s > 0:
        return NotAllowedError(
            f"too many wrong PINs for {person.name}.",
            where=where,
            advice=f"Wait {wait_s:.0f} s. Alarms can still be seen and heard.",
        )
    return NotAllowedError(
        "this is not the PIN.", where=person.name, advice="Type it again, or ask the lead."
    )


def confirmed_by(desk: Desk, person_id: str, pin: str) -> Person:
    """Give the second person who confirms with a PIN; whoever is signed in is not one."""
    where = "Second person"
    person = desk.shop.people.get(person_id)
    if person is None or person.left:
        raise NotAllowedError("nobody is chosen.", where=where, advice="Choose a name.")
    if desk.person is not None and person_id == desk.person.person_id:
        raise NotAllowedError(
            "a second person confirms this, not the one who is signed in.",
            where=desk.person.name,
            advice="Have a colleague look at it and type a PIN.",
        )
    wait_s = _wait_s(desk, person_id)
    if wait_s > 0 or not check_pin(person, pin):
        if wait_s <= 0:
            _count(desk, person_id)
        raise _refused(person, wait_s, where)
    desk.tries[person_id] = Lockout()
    return person


def badge(desk: Desk, fields: Mapping[str, str]) -> str:
    """Sign in whose badge was scanned, at any step; the own one changes nothing.

    With the field ``or`` it may be something else, which is no wrong try: nothing is said then.
    Whose badge it is counts even while none is taken, so that it never stays where text goes.
    """
    text = fields.get("badge", "")
    if not fields.get("or") or _owner(desk, text) is not None:
        said = _by_badge(desk, text)
        return f"{said} {NO_TEXT}" if fields.get("or") == TEXTS else said
    if desk.person is None and badge_marked(desk.shop.people.values(), text, desk.shop.badge_salt):
        # Nobody may guess so: of 256 wrong ones one has somebody's mark.
        _count(desk, BADGES)
    return ""


def _by_badge(desk: Desk, text: str) -> str:
    wait_s = _wait_s(desk, BADGES)
    if wait_s > 0:
        raise NotAllowedError(
            "too many unknown badges.",
            where="Sign in",
            advice=f"Wait {wait_s:.0f} s, or sign in by PIN.",
        )
    owner = _owner(desk, text)
    if owner is None:
        _count(desk, BADGES)
        raise NotAllowedError(
            "this badge is not known here.",
            where="Sign in",
            advice="Sign in by PIN, and register it on the People page.",
        )
    desk.tries[BADGES] = Lockout()
    return hand_over(desk, owner)


def _owner(desk: Desk, text: str) -> Person | None:
    return badge_owner(desk.shop.people.values(), text, desk.shop.badge_salt)


def _wait_s(desk: Desk, whose: str) -> float:
    return desk.tries.get(whose, Lockout()).wait_s(desk.clock.seconds())


def _count(desk: Desk, whose: str) -> None:
    desk.tries[whose] = desk.tries.get(whose, Lockout()).failed(desk.clock.seconds())


def hand_over(desk: Desk, person: Person | None) -> str:
    """Let another person, or nobody, have the desk. What runs on it goes on.

    What was asked for and has not happened is taken back where the next may not ask for it.
    """
    before, desk.person, desk.switching = desk.person, person, False
    if before is not None and person is not None and before.person_id == person.person_id:
        return f"{person.name} is signed in already."
    undone = take_back_asked(desk)
    out = f"{before.name} is signed out." if before is not None else ""
    if person is None:
        return f"{out}{undone}"
    return f"{person.name} is signed in. {out}{undone}".rstrip()


def take_back_asked(desk: Desk) -> str:
    """Take back what was asked for where whoever is here now may not ask for it; say so."""
    weighing = desk.weighing is not None and desk.weighing.phase in (
        Phase.TARING,
        Phase.CAPTURING,
    )
    may = desk.person is not None and desk.person.has(Role.TECHNICIAN, Role.LEAD)
    if may or not (weighing or desk.charge_wanted or desk.hold_wanted):
        return ""
    capturing.cancel(desk, {})
    return " What was asked for is taken back."


def switch(desk: Desk, fields: Mapping[str, str]) -> str:
    """Show the sign-in form beside the running step; nothing stops for it."""
    desk.switching = True
    return "Scan a badge, or choose a name and type the PIN. Nothing stops meanwhile."


def stay(desk: Desk, fields: Mapping[str, str]) -> str:
    """Leave the sign-in form; who was signed in goes on."""
    desk.switching = False
    return f"{desk.person.name if desk.person else 'Nobody'} goes on."


def sign_out(desk: Desk, fields: Mapping[str, str]) -> str:
    """Sign out; the unit and what stands in the step's form are kept for whoever comes next."""
    desk.keep_typed(fields)
    return hand_over(desk, None)
