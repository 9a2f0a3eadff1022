"""What to do at the valve, in words that fit how far the pressure is from its target.

Gas that has just been let in is warm and settles lower. How much lower is known only from a fill
of this charge that has settled; it is between nothing and all that nitrogen can lose (its ratio
of specific heats, 1.4: an insulated vessel filled from a line).
"""

from dataclasses import dataclass

from benchstation.quantities.formatter import QuantityFormatter
from benchstation.screens.model.elements import Tone

HEAT_RATIO = 1.4
HAND_S = 1.0
"""For so long gas still comes in while a hand closes the valve."""
MEASURE = "measure the unit: press A", Tone.CAUTION
SLOW_S, NEAR, FAR = 5.0, 0.12, 0.3
"""Seconds to the target, and shares of it: where to slow down, and what is far away."""


@dataclass(frozen=True, slots=True)
class Fill:
    """A charge while gas comes in: where it began, where it is, and how fast it rises; Pa, Pa/s."""

    from_pa: float
    now_pa: float
    rate_pa_s: float
    kept: float | None = None
    """The share of a rise that stayed once an earlier fill of this charge had settled."""

    @property
    def soon_pa(self) -> float:
        """Return what the gauge will show when a hand has closed the valve."""
        return self.now_pa + HAND_S * max(0.0, self.rate_pa_s)

    def settles_pa(self) -> tuple[float, float]:
        """Return between what it would settle if the valve were closed now."""
        return self.from_pa + (self.now_pa - self.from_pa) / HEAT_RATIO, self.soon_pa

    def expected_pa(self) -> float:
        """Return where it is expected to settle; where nothing is known, the most it can be."""
        kept = 1.0 if self.kept is None else self.kept
        return self.from_pa + kept * (self.soon_pa - self.from_pa)


def while_filling(
    fill: Fill, goal_pa: float, half_pa: float, words: QuantityFormatter
) -> tuple[tuple[str, Tone], ...]:
    """Return what to do while gas comes in, the most important first."""
    left = goal_pa - fill.expected_pa()
    if fill.rate_pa_s > 0 and left <= 0:
        low, high = fill.settles_pa()
        told = (
            f"it will settle between {words.pressure_shown(low).number} and {words.pressure(high)}"
        )
        first = "close now" if low <= goal_pa + half_pa else "close now: too much"
        return ((first, Tone.CAUTION), (told, Tone.PLAIN))
    if left <= 0:
        return (("close the bottle valve", Tone.PLAIN),)
    near = left <= NEAR * goal_pa
    soon = fill.rate_pa_s > 0 and left / fill.rate_pa_s <= SLOW_S
    if near or soon:
        return (("slow down", Tone.CAUTION),)
    if fill.now_pa <= FAR * goal_pa or fill.rate_pa_s <= 0:
        return (("open the bottle valve slowly", Tone.PLAIN),)
    return (("keep filling slowly", Tone.PLAIN),)


def when_settled(
    final_pa: float, goal_pa: float, half_pa: float, known_half_pa: float
) -> tuple[str, Tone]:
    """Return what to do about a pressure that has settled, or will at ``final_pa``.

    ``known_half_pa``: half the window, were the unit's temperature known well; what lies in that
    and outside of ``half_pa`` is not to be vented or filled, but measured.
    """
    off = final_pa - goal_pa
    if abs(off) <= half_pa:
        return "in the window: capture", Tone.MANDATORY
    if abs(off) <= known_half_pa:
        return MEASURE
    if off > 0:
        return "too high: vent a little", Tone.CAUTION
    return _too_low(-off, goal_pa)


def when_shut(
    now_pa: float, goal_pa: float, known_half_pa: float, *, falls: bool
) -> tuple[str, Tone]:
    """Return what to do with the valve shut, before it is known where the pressure will settle.

    ``falls``: gas was let in last. It cools, so what is below the window does not come into it.
    """
    short = goal_pa - now_pa
    if falls and short > known_half_pa:
        return _too_low(short, goal_pa)
    return "valve shut: let it settle", Tone.PLAIN


def _too_low(short_pa: float, goal_pa: float) -> tuple[str, Tone]:
    """Return how to let in what is missing, by how much it is."""
    far = short_pa > NEAR * goal_pa
    what = "open the bottle valve slowly" if far else "let a little more in"
    return f"too low: {what}", Tone.CAUTION


def urge_of(fill: Fill, goal_pa: float) -> float:
    """Return how close a fill is to where the valve is closed, 0 to 1, for the tone."""
    if fill.rate_pa_s <= 0 or goal_pa <= 0:
        return 0.0
    near = 2 * NEAR * goal_pa
    return min(1.0, max(0.0, 1.0 - (goal_pa - fill.expected_pa()) / near))
