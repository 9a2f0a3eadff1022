"""What the shop has received of kits, parts, wrenches and weights, and whether it may be used."""

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from benchstation.domain.content import Recorded

Key = tuple[str, str, str]
"""Sort, number and lot, as they are compared."""
USED_UP, WITHDRAWN = "used up", "withdrawn"
"""Why a material is closed."""


class Sort(StrEnum):
    """What a material is."""

    KIT = "kit"
    PART = "part"
    WRENCH = "torque wrench"
    WEIGHT = "check weight"

    @property
    def calibrated(self) -> bool:
        """Return True for what has a calibration that must be in force."""
        return self in (Sort.WRENCH, Sort.WEIGHT)


class Standing(StrEnum):
    """Whether a material may be used."""

    OPEN = "open"
    UNKNOWN = "not on record"
    EXPIRED = "expired"
    OVERDUE = "overdue"
    WITHDRAWN = "withdrawn"
    USED_UP = "used up"


@dataclass(frozen=True, slots=True)
class Supplied(Recorded):
    """What was on record of a material as it was used. Not open: a deviation accepted it."""

    supplier: str
    until: str
    standing: Standing = Standing.OPEN


@dataclass(frozen=True, slots=True)
class Material(Recorded):
    """A kit, a lot of a part, a torque wrench or a check weight.

    ``number`` is what a specification asks for, empty for wrench and weight; ``lot`` is its lot, or
    its own id. Dates are ISO 8601: ``until`` is the last day of its use or of its calibration,
    empty where there is none.
    """

    sort: Sort
    number: str
    lot: str
    name: str
    supplier: str
    received_on: str
    until: str = ""
    certificate: str = ""
    nominal_kg: float | None = None
    weight_class: str = ""

    @property
    def key(self) -> Key:
        """Return under which key it is found."""
        return key_of(self.sort, self.number, self.lot)


@dataclass(frozen=True, slots=True)
class Closed:
    """Why a material is no longer offered."""

    why: str
    reason: str


def text_key(text: str) -> str:
    """Return the form in which serials and lots are compared: composed, without case."""
    return unicodedata.normalize("NFC", text).casefold()


def key_of(sort: str, number: str, lot: str) -> Key:
    """Return under which key a material is found."""
    return sort, text_key(number), text_key(lot)


@dataclass(slots=True)
class Stock:
    """All that was received, and what became of it."""

    received: dict[Key, Material] = field(default_factory=dict)
    closed: dict[Key, Closed] = field(default_factory=dict)

    def receive(self, material: Material) -> None:
        """Take a material in; a wrench that was withdrawn comes back with its new calibration."""
        self.received[material.key] = material
        self.closed.pop(material.key, None)

    def close(self, key: Key, why: str, reason: str) -> None:
        """Offer a material no longer."""
        self.closed[key] = Closed(why, reason)

    def find(self, sort: Sort, number: str, lot: str) -> Material | None:
        """Return what is on record under this lot or id; an empty number fits any."""
        if number or sort.calibrated:
            return self.received.get(key_of(sort, number, lot))
        return next((m for m in self.of(sort) if text_key(m.lot) == text_key(lot)), None)

    def of(self, sort: Sort, number: str = "") -> list[Material]:
        """Return all of a sort, by lot; an empty number fits any."""
        found = [
            m
            for m in list(self.received.values())
            if m.sort == sort and (not number or text_key(m.number) == text_key(number))
        ]
        return sorted(found, key=lambda m: (m.number, m.lot))

    def standing(self, material: Material | None, today: date) -> Standing:
        """Return whether a material may be used on this day."""
        if material is None:
            return Standing.UNKNOWN
        closed = self.closed.get(material.key)
        if closed is not None:
            return Standing.WITHDRAWN if closed.why == WITHDRAWN else Standing.USED_UP
        if material.until and date.fromisoformat(material.until) < today:
            return Standing.OVERDUE if material.sort.calibrated else Standing.EXPIRED
        return Standing.OPEN

    def why_not(self, material: Material, today: date) -> str:
        """Return in words why a material may not be used; empty: it may."""
        standing = self.standing(material, today)
        closed = self.closed.get(material.key)
        match standing:
            case Standing.OPEN:
                return ""
            case Standing.WITHDRAWN:
                return f"is withdrawn: {closed.reason if closed else ''}"
            case Standing.USED_UP:
                return "is closed as used up"
            case Standing.OVERDUE:
                return f"is overdue: calibrated until {material.until}"
            case _:
                return f"expired on {material.until}"

    def offered(self, sort: Sort, number: str, today: date) -> Mapping[str, str]:
        """Return what may be chosen, by lot, with words; what is refused comes last, and says so.

        Used-up lots are left out.
        """
        rows = [(m, self.why_not(m, today)) for m in self.of(sort, number)]
        there = [(m, why) for m, why in rows if self.standing(m, today) is not Standing.USED_UP]
        ordered = sorted(there, key=lambda row: bool(row[1]))
        return {
            m.lot: f"{m.lot} ({why.removeprefix('is ')})" if why else m.lot for m, why in ordered
        }
