"""Values read by hand on another instrument: the last resort, marked as such and confirmed."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from benchstation.domain.recorded_parts import ReadByHand
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import in_field
from benchstation.quantities.units import Dimension, parse

LONGEST_TEXT = 64
HAND = "hand"
"""What stands in the record as the instrument of such a value."""


@dataclass(frozen=True, slots=True)
class ByHand:
    """A value as it was read, SI, with what is known of the instrument it was read on.

    ``resolution`` is its last digit, ``expanded`` the U with k = 2 of its certificate.
    """

    value: float
    instrument: str
    serial: str
    resolution: float
    expanded: float

    def u(self, displays: int) -> float:
        """Return standard uncertainty of a value made from so many displays (JCGM 100 4.3.7)."""
        return float(((self.expanded / 2) ** 2 + displays * self.resolution**2 / 12) ** 0.5)

    def confirmed(self, person_id: str) -> ReadByHand:
        """Return what the journal keeps beside the value; ``person_id`` confirmed it."""
        return ReadByHand(self.instrument, self.serial, self.resolution, self.expanded, person_id)


def read_by_hand(
    fields: Mapping[str, str], dimension: Dimension, default_unit: str, where: str
) -> ByHand:
    """Read the form of a value by hand; raises when anything is missing or cannot be so."""

    def quantity(key: str, wrong: Callable[[float], bool], advice: str) -> float:
        with in_field(key):
            value = parse(fields.get(key, ""), dimension, default_unit=default_unit)
            if wrong(value):
                raise NotAllowedError("this cannot be.", where=where, advice=advice)
        return value

    def text(key: str, what: str) -> str:
        typed = fields.get(key, "").strip()
        if not typed or not typed.isprintable() or len(typed) > LONGEST_TEXT:
            raise NotAllowedError(
                f"{what} it was read on is missing.",
                where=where,
                advice="What you typed is kept.",
                field=key,
            )
        return typed

    return ByHand(
        quantity("by_hand", lambda v: v < 0, "Give what was read: it is not below zero."),
        text("instrument", "the name of what"),
        text("instrument_serial", "the serial number of what"),
        quantity("last_digit", lambda v: v <= 0, "Give the step of its last digit."),
        quantity("expanded", lambda v: v < 0, "Give U from its certificate: it is not below zero."),
    )
