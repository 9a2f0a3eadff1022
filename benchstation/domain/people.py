"""Who may sign at the bench: roles, PINs, badges, and the pause after wrong ones.

A PIN tells colleagues apart at a shared bench; it does not withstand someone who holds the data
file. PINs and the texts of badges are stored as salted scrypt (RFC 7914) with N = 2^14, r = 8,
p = 1. So that a badge is found among many people without trying each, eight bits of an HMAC-SHA256
(RFC 2104) under the shop's salt stand beside its hash: whoever holds the file can rule out 255 of
256 guesses by them without the slow hash, and no more.
"""

import base64
import hashlib
import hmac
import secrets
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from benchstation.driver_api.errors import StationError

LEAST_PIN_DIGITS = 6
MOST_PIN_DIGITS = 32
LEAST_BADGE, MOST_BADGE = 6, 200
TEXTS = "the text's"
"""Beside a badge: it was scanned into a text field, and may be text."""
FREE_TRIES = 5
FIRST_PAUSE_S = 30.0
LONGEST_PAUSE_S = 900.0

COST, MOST_COST = 2**14, 2**17
"""Of a new hash, and the most that is worked out for one on record; each hash names its own."""
_BLOCK, _LANES = 8, 1
_STRAIGHT = "0123456789012345678901234567890123456789"


class PinError(StationError):
    """A new PIN is too weak to be taken."""


class BadgeError(StationError):
    """The text of a badge cannot be taken."""


class Role(StrEnum):
    """What a person may do: rebuild, own specifications and instruments, release or hold."""

    TECHNICIAN = "technician"
    LEAD = "lead"
    QA = "qa"


@dataclass(frozen=True, slots=True)
class DisplayPreferences:
    """How someone likes to see and hear the bench. Empty, 0 or ``None``: as the bench has it."""

    units: str = ""
    theme: str = ""
    text_scale: int = 0
    pour_tone: bool | None = None


@dataclass(frozen=True, slots=True)
class Person:
    """Someone enrolled at the shop. An empty ``pin_hash``: no PIN set, nobody can sign in so."""

    person_id: str
    name: str
    roles: frozenset[Role]
    pin_hash: str = ""
    badge_mark: str = ""
    badge_hash: str = ""
    left: bool = False
    """Taken off: cannot sign in any more; what was signed stays."""
    preferences: DisplayPreferences = DisplayPreferences()

    def has(self, *roles: Role) -> bool:
        """Return True when the person has at least one of ``roles``."""
        return not self.roles.isdisjoint(roles)

    @property
    def can_sign_in(self) -> bool:
        """Return True when there is a way for the person to sign in."""
        return not self.left and bool(self.pin_hash or self.badge_hash)


@dataclass(frozen=True, slots=True)
class Lockout:
    """Wrong tries so far, and until when no more are taken (seconds of any steady clock).

    Five tries are free; each wrong one from the fifth on doubles the pause, from 30 s up to 15 min.
    It guards signing in only: whoever is signed in can always acknowledge an alarm.
    """

    failures: int = 0
    until: float = 0.0

    def wait_s(self, at: float) -> float:
        """Return the seconds to wait before the next try; 0 when one is taken now."""
        return max(0.0, self.until - at)

    def failed(self, at: float) -> "Lockout":
        """Count a wrong try."""
        failures = self.failures + 1
        if failures < FREE_TRIES:
            return Lockout(failures, self.until)
        return Lockout(failures, at + pause_after(failures))

    def passed(self) -> "Lockout":
        """Forget wrong tries after a right one."""
        return Lockout()


def pause_after(failures: int) -> float:
    """Return for how many seconds no try is taken after so many wrong ones."""
    if failures < FREE_TRIES:
        return 0.0
    # The exponent is bounded so that years of wrong tries cannot overflow a float.
    pause_s: float = FIRST_PAUSE_S * 2.0 ** min(failures - FREE_TRIES, 16)
    return min(pause_s, LONGEST_PAUSE_S)


def hash_pin(pin: str, cost: int = 0) -> str:
    """Return salted hash of a new PIN of 6 to 32 digits. Raises :class:`PinError`. Takes 50 ms.

    A ``cost`` of its own is for a PIN that everybody may know.
    """
    if not (pin.isascii() and pin.isdigit() and LEAST_PIN_DIGITS <= len(pin) <= MOST_PIN_DIGITS):
        raise PinError(
            "this PIN is refused; nothing was changed.",
            advice=f"Use {LEAST_PIN_DIGITS} to {MOST_PIN_DIGITS} digits.",
        )
    if len(set(pin)) == 1 or pin in _STRAIGHT or pin in _STRAIGHT[::-1]:
        raise PinError(
            "this PIN is too easy to guess; nothing was changed.",
            advice="Use digits that are neither all the same nor in counting order.",
        )
    return _hashed(pin, cost)


def check_pin(person: Person, pin: str) -> bool:
    """Return True when ``pin`` is the person's. Constant time; False without a sound hash."""
    return _matches(person.pin_hash, pin)


def new_badge_salt() -> str:
    """Return a random salt for a shop's badge marks."""
    return secrets.token_hex(16)


def badge_mark(text: str, salt: str) -> str:
    """Return the two hexadecimal digits by which a badge is looked for."""
    return hmac.new(salt.encode(), text.strip().encode("utf-8"), hashlib.sha256).hexdigest()[:2]


def hash_badge(text: str, cost: int = 0) -> str:
    """Return a salted hash of a badge's text. Raises :class:`BadgeError`. Takes 50 ms.

    A ``cost`` of its own is for a badge that everybody may know.
    """
    plain = text.strip()
    if not (LEAST_BADGE <= len(plain) <= MOST_BADGE and plain.isprintable()):
        raise BadgeError(
            "this badge is refused; nothing was changed.",
            advice=f"Use one of {LEAST_BADGE} to {MOST_BADGE} printable characters.",
        )
    return _hashed(plain, cost)


def badge_marked(people: Iterable[Person], text: str, salts: Sequence[str]) -> list[Person]:
    """Return those whose badge this can be by its mark; none is tried slowly.

    A badge is marked under any of the ``salts``: those of the benches that joined the shop.
    """
    if not text.strip():
        return []
    marks = [badge_mark(text, salt) for salt in salts]
    return [
        p
        for p in people
        if not p.left and any(hmac.compare_digest(p.badge_mark, mark) for mark in marks)
    ]


def badge_owner(people: Iterable[Person], text: str, salts: Sequence[str]) -> Person | None:
    """Return whose badge this is, or ``None``. Takes 50 ms for each badge with the same mark."""
    return next(badge_owners(people, text, salts), None)


def badge_owners(people: Iterable[Person], text: str, salts: Sequence[str]) -> Iterator[Person]:
    """Return all whose badge this is: two where two benches registered it without the network."""
    for person in badge_marked(people, text, salts):
        if _matches(person.badge_hash, text.strip()):
            yield person


def _hashed(secret: str, cost: int = 0) -> str:
    salt = secrets.token_bytes(16)
    cost = cost or COST
    parts = (salt, _derive(secret, salt, cost, _BLOCK, _LANES))
    texts = (base64.b64encode(part).decode("ascii") for part in parts)
    return "$".join(("scrypt", str(cost), str(_BLOCK), str(_LANES), *texts))


def _matches(stored: str, secret: str) -> bool:
    try:
        scheme, *sizes, salt_text, key_text = stored.split("$")
        cost, block, lanes = map(int, sizes)
        salt = base64.b64decode(salt_text, validate=True)
        key = base64.b64decode(key_text, validate=True)
        sound = 1 < cost <= MOST_COST and 0 < block <= 2 * _BLOCK and 0 < lanes <= 4
        if scheme != "scrypt" or len(key) != 32 or not sound:
            return False
        found = _derive(secret, salt, cost, block, lanes)
    except ValueError:
        return False
    return hmac.compare_digest(found, key)


def _derive(pin: str, salt: bytes, cost: int, block: int, lanes: int) -> bytes:
    return hashlib.scrypt(
        pin.encode("utf-8"),
        salt=salt,
        n=cost,
        r=block,
        p=lanes,
        maxmem=256 * 2**20,
        dklen=32,
    )
