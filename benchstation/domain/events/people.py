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
