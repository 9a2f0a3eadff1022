"""Whether a gauge that shows the very same reading for long is alive.

A gauge that is stuck reads like a tight unit. Whether it ought to have moved is told by its own
readings before: where its noise is larger than its last digit, readings jump by two digits and more
and back again, which pressure at rest behind a closed valve does not.

The bound. Let ``c`` be the share of such returns, a jump of two digits or more against the change
before it. One of two readings that lie two digits apart was off by more than a whole digit, so a
single reading is off so far with a chance of at least ``c / 2``; and by more than half a digit,
which moves it wherever in its digit the pressure stands, it is off more often still. With noise
independent from reading to reading, ``n`` readings in a row are then all the same with a chance of
at most ``(1 - c / 2)^n``, and some such run among ``m`` readings with at most ``m`` times that
(Boole's inequality). A gauge whose noise hides under its digit, such as one in steps of 0.1 bar,
never returns by two digits, also not where it flickers between two: ``c`` is 0, and nothing is
concluded. The derivation is our own; the noise before is taken to be the noise of the hold.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LEAST_CHANCE = 1e-3
"""A standstill less likely than this is the gauge's; our choice, near that of three sigma."""
NOISE_OVER_S = 30.0
"""How far back before the standstill the noise is taken from."""
LEAST_BEFORE = 20


@dataclass(frozen=True, slots=True)
class Standstill:
    """The longest time that no digit changed, in s.

    ``whole``: over all of the time looked at. ``chance`` is the largest that a gauge that is alive
    would so stand still; 1 where its readings before do not tell.
    """

    seconds: float
    whole: bool
    chance: float

    @property
    def stuck(self) -> bool:
        """Return True when digits should have moved by the gauge's own noise."""
        return self.chance < LEAST_CHANCE


def standstill(t_s: Array, values: Array, begin: int, step: float) -> Standstill:
    """Look at the readings from index ``begin`` on; those before tell the gauge's noise.

    ``t_s`` and ``values`` are one-dimensional, of equal length, oldest first; ``step`` is the last
    digit in the unit of the values, 0 when it is not known: then it is the smallest change seen.
    """
    if values.size - begin < 2:
        return Standstill(0.0, whole=False, chance=1.0)
    changes = np.flatnonzero(np.diff(values)) + 1
    edges = np.concatenate(([begin], changes[changes > begin], [values.size]))
    longest = int(np.argmax(np.diff(edges)))
    first, end = int(edges[longest]), int(edges[longest + 1])
    seconds, whole = float(t_s[end - 1] - t_s[first]), end - first == values.size - begin
    if first == begin:
        # It may have stood still before already: its noise is that of when it still moved.
        earlier = changes[changes <= begin]
        first = int(earlier[-1]) if earlier.size else 0
    since = int(np.searchsorted(t_s, t_s[first] - NOISE_OVER_S))
    share = _returns(values[since:first], step)
    chance = min(1.0, (values.size - since) * (1.0 - share / 2.0) ** (end - first))
    return Standstill(seconds, whole, chance)


def _returns(values: Array, step: float) -> float:
    """Return the share of readings that go back by two digits or more against the change before."""
    if values.size < LEAST_BEFORE:
        return 0.0
    moves = np.diff(values)
    moved = moves[moves != 0.0]
    if moved.size < 2:
        return 0.0
    digit = step or float(np.abs(moved).min())
    back = (np.sign(moved[1:]) != np.sign(moved[:-1])) & (np.abs(moved[1:]) > 1.5 * digit)
    return float(np.count_nonzero(back)) / moves.size
