"""What shows that a scale at rest is alive: digits that go back and forth, or an answer to a touch.

A scale that hangs shows a steady mass for ever, and so does one whose digits hide its noise: no
reading tells them apart. A hand does: the digits of a scale that is alive leave their place under
it and come back. Oil does not come back; where a display comes to rest in another place, nothing
of before tells of it any more.
"""

from collections.abc import Sequence
from itertools import pairwise

from benchstation.domain.scale_alive import Alive

AWAY = 3.0
"""So many times what counts as the same place is away from it."""


class ScaleAnswer:
    """Judges a display since it came to rest last; pure, fed with readings.

    ``same_kg`` is how far apart two rests are still one.
    """

    def __init__(self, same_kg: float) -> None:
        self._same_kg = same_kg
        self._rest_kg: float | None = None
        self._away = self._touched = False

    def begin(self) -> None:
        """Forget every rest: another load, or another zero."""
        self._rest_kg = None
        self._away = self._touched = False

    def put_on(self) -> None:
        """Take note that the next rest is that of what was put on the scale, or back on it."""
        self.begin()
        self._away = True

    def take(self, shown_kg: float, steady_kg: float | None) -> None:
        """Take one reading, and the mean of the window where it is steady."""
        if self._rest_kg is not None and abs(shown_kg - self._rest_kg) >= AWAY * self._same_kg:
            self._away = True
        if steady_kg is None:
            return
        if self._rest_kg is None:
            self._rest_kg, self._touched = steady_kg, self._away
        elif abs(steady_kg - self._rest_kg) > self._same_kg:
            self._rest_kg, self._touched = steady_kg, False
        else:
            self._touched = self._touched or self._away
        self._away = False

    def alive(self, window: Sequence[float]) -> Alive:
        """Return what shows that the scale is alive, with the readings of a steady window."""
        moves = [after - before for before, after in pairwise(window)]
        if min(moves, default=0.0) < 0.0 < max(moves, default=0.0):
            return Alive.DIGITS
        return Alive.TOUCH if self._touched else Alive.NOT_SHOWN
