"""Values read by hand on another instrument: the last resort, marked as such and confirmed."""

from collections.abc import Mapping
from dataclasses import dataclass

from benchstation.domain.recorded_parts import ReadByHand
from benchstation.domain.unit_commands import NotAllowedError
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
    name, serial = (fields.get(k, "").strip() for k in ("instrument", "instrument_serial"))
    if not all(t and t.isprintable() and len(t) <= LONGEST_TEXT for t in (name, serial)):
        raise NotAllowedError(
            "what it was read on is missing.",
            where=where,
            advice="Give the instrument's name and its serial number; what you typed is kept.",
        )

    def quantity(key: str) -> float:
        return parse(fields.get(key, ""), dimension, default_unit=default_unit)

    value, resolution, expanded = (quantity(k) for k in ("by_hand", "last_digit", "expanded"))
    if value < 0 or resolution <= 0 or expanded < 0:
        raise NotAllowedError(
            "a value below zero, or an instrument without a last digit, is no reading.",
            where=where,
            advice="Give what was read, the step of its last digit, and U from its certificate.",
        )
    return ByHand(value, name, serial, resolution, expanded)
