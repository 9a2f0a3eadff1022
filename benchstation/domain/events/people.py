"""The people of the shop: who may sign, badges, and how each likes the bench."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.events.base import Event


@dataclass(frozen=True, slots=True)
class PersonEnrolled(Event):
    """Someone may sign here. ``pin_hash`` is a salted scrypt hash; empty: no PIN set yet."""

    kind: ClassVar[str] = "person.enrolled"
    person_id: str
    name: str
    roles: tuple[str, ...]
    pin_hash: str = ""


@dataclass(frozen=True, slots=True)
class PersonLeft(Event):
    """Someone may no longer sign here. What the person signed stays on record."""

    kind: ClassVar[str] = "person.left"
    person_id: str
    reason: str


@dataclass(frozen=True, slots=True)
class PersonSignedIn(Event):
    """Someone began to sign at this bench. ``how``: PIN or badge."""

    kind: ClassVar[str] = "person.signed_in"
    person_id: str
    how: str


@dataclass(frozen=True, slots=True)
class PersonSignedOut(Event):
    """Someone signs at this bench no longer. ``how``: by hand, timed, or another came."""

    kind: ClassVar[str] = "person.signed_out"
    person_id: str
    how: str


@dataclass(frozen=True, slots=True)
class PinRefused(Event):
    """A wrong PIN was typed, or an unknown badge scanned: then ``person_id`` is empty.

    ``tries`` counts the wrong ones since the last right one. What was typed is nowhere.
    """

    kind: ClassVar[str] = "person.pin_refused"
    person_id: str
    where: str
    tries: int


@dataclass(frozen=True, slots=True)
class SignedOnce(Event):
    """The first of two signatures of one person, where nobody else could give the second.

    ``act`` is what the bench calls it; ``subject`` what it is about, with its content.
    """

    kind: ClassVar[str] = "person.signed_once"
    person_id: str
    act: str
    subject: str


@dataclass(frozen=True, slots=True)
class QaConfirmed(Event):
    """A QA role, or the new PIN of somebody with one, and the QA who confirmed it.

    ``by`` is empty where no QA was there to do so; ``first``: nobody was QA before.
    """

    kind: ClassVar[str] = "person.qa_confirmed"
    person_id: str
    by: str
    first: bool = False


@dataclass(frozen=True, slots=True)
class BadgeSaltMade(Event):
    """The shop's salt, under which badges are marked from now on."""

    kind: ClassVar[str] = "badge.salt"
    salt: str


@dataclass(frozen=True, slots=True)
class BadgeRegistered(Event):
    """A badge is someone's: a few bits to find it by and a salted scrypt hash; empty: none."""

    kind: ClassVar[str] = "person.badge"
    person_id: str
    mark: str
    badge_hash: str


@dataclass(frozen=True, slots=True)
class PersonPrefers(Event):
    """How someone likes to see and hear the bench. Empty, 0 or ``None``: as the bench has it."""

    kind: ClassVar[str] = "person.prefers"
    person_id: str
    units: str = ""
    lights: str = ""
    text_scale: int = 0
    pour_tone: bool | None = None
