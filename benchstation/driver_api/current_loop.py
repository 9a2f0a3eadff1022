"""What a transmitter's signal says, and when it says that the transmitter has failed.

NAMUR NE 43: 3.8 to 20.5 mA carry the measured value, at or below 3.6 mA and at or above 21 mA the
transmitter signals a failure; what lies between is not defined and is no value either. Live zero
4 mA and full scale 20 mA as in IEC 60381-1.

A voltage with a live zero, such as 0.5 to 4.5 V, fails in the same way: its wire is broken or
shorted when it leaves its band. No standard says by how much, so its classes are those of NE 43 in
the same shares of its span.
"""

from dataclasses import dataclass
from enum import StrEnum

ZERO_A, FULL_A = 4e-3, 20e-3
MEASURING_LOW_A, MEASURING_HIGH_A = 3.8e-3, 20.5e-3
FAILURE_LOW_A, FAILURE_HIGH_A = 3.6e-3, 21e-3


class LoopSignal(StrEnum):
    """Where a loop current lies. Only ``VALID`` and its two neighbours carry a value."""

    FAILURE_LOW = "failure low"
    UNDEFINED_LOW = "not defined, between failure and measuring band"
    VALID_BELOW_ZERO = "valid, below 0 %"
    VALID = "valid"
    VALID_ABOVE_FULL = "valid, above 100 %"
    UNDEFINED_HIGH = "not defined, between measuring band and failure"
    FAILURE_HIGH = "failure high"

    @property
    def has_value(self) -> bool:
        """Return True when the current may be read as a value."""
        return self in (LoopSignal.VALID_BELOW_ZERO, LoopSignal.VALID, LoopSignal.VALID_ABOVE_FULL)


@dataclass(frozen=True, slots=True)
class Signal:
    """A signal from ``zero`` (0 %) to ``full`` (100 %), A, V or V per V of supply."""

    zero: float = ZERO_A
    full: float = FULL_A

    @property
    def has_live_zero(self) -> bool:
        """Return True when a broken wire, no signal at all, is told from the lowest value."""
        return classify_current(self.as_current_a(0.0)) is LoopSignal.FAILURE_LOW

    def as_current_a(self, value: float) -> float:
        """Return the loop current that stands at the same share of its span."""
        return ZERO_A + (value - self.zero) / (self.full - self.zero) * (FULL_A - ZERO_A)


def classify_current(current_a: float) -> LoopSignal:
    """Return what a loop current means by NE 43; a current that is not a number is a failure.

    Compared to the nanoampere, so that 3.6 mA is 3.6 mA however it was computed.
    """
    current_a = round(current_a, 9)
    if not current_a > FAILURE_LOW_A:
        return LoopSignal.FAILURE_LOW
    if current_a < MEASURING_LOW_A:
        return LoopSignal.UNDEFINED_LOW
    if current_a < ZERO_A:
        return LoopSignal.VALID_BELOW_ZERO
    if current_a <= FULL_A:
        return LoopSignal.VALID
    if current_a <= MEASURING_HIGH_A:
        return LoopSignal.VALID_ABOVE_FULL
    return LoopSignal.UNDEFINED_HIGH if current_a < FAILURE_HIGH_A else LoopSignal.FAILURE_HIGH


def value_of_current(current_a: float, low: float, high: float) -> float | None:
    """Return low + (high - low) * (I - 4 mA) / 16 mA, or ``None`` where NE 43 has no value."""
    if not classify_current(current_a).has_value:
        return None
    return low + (high - low) * (current_a - ZERO_A) / (FULL_A - ZERO_A)
