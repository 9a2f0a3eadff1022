"""A gauge whose digits stand still while gas is let in: what they can show is computed.

The station does not see the valve. It counts as open from the moment that the pressure was seen to
rise, until the pressure was seen to fall by two digits or somebody says that it is shut by asking
for the capture. Digits that stand still are the gauge's, not the pressure's, when

- they moved by their own noise while the line stood at rest before, and the chance of so long a
  standstill is under :data:`LEAST_CHANCE` (``metrology/standstill.py``);
- or gas behind a closed valve would have cooled by two digits since (``physics/fill_heat.py``),
  and with the valve open it would have risen;
- or they stand for :data:`OPEN_S`, and for three times what the slowest filling that counts as one
  takes for a digit, and nobody has said that the valve is shut. A coarse gauge tells no more.
"""

from collections import deque
from dataclasses import dataclass

import numpy as np

from benchstation.metrology.standstill import NOISE_OVER_S, standstill
from benchstation.physics.fill_heat import FillHeat

LEAST_CHANCE = 1e-6
"""A live gauge is called hanging less often than once in a million looks; our choice."""
OPEN_S = 5.0
LEAST_S = 2.0
"""No shorter standstill is judged: a valve that is being shut balances the cooling for a moment."""
DIGITS = 2.0
OPENED = 0.01
"""Share of the target that the pressure must rise by before the valve counts as open."""
SLOWEST_RISE = 0.01
"""Share of the target a second that the slowest filling rises by."""
LOOK_EVERY_S = 0.5
MOST_AT_REST = 3000


@dataclass(frozen=True, slots=True)
class Filling:
    """Gas may be let in now. ``digit_pa``: the gauge's last digit, 0 when it is not known."""

    target_pa: float
    digit_pa: float
    said_shut: bool
    """Somebody has said that the valve is shut."""


class StandingDigits:
    """Judges one gauge's readings; pure, fed with times and gauge pressures."""

    def __init__(self) -> None:
        self._filling: Filling | None = None
        self._at_rest: deque[tuple[float, float]] = deque(maxlen=MOST_AT_REST)
        self._heat = FillHeat()
        self._last: tuple[float, float] | None = None
        self._low = self._high = 0.0
        self._open = False
        self._since, self._count = 0.0, 0
        self._looked = -LOOK_EVERY_S
        self._noise_says = False

    def set_filling(self, filling: Filling | None) -> None:
        """Judge from now on as gas is let in, or not: ``None``."""
        if filling is None or self._filling is None:
            self._open = False
            self._heat = FillHeat()
            if self._last is not None:
                self._low = self._high = self._last[1]
        self._filling = filling

    def interrupt(self) -> None:
        """Begin the standstill anew after a gap in the readings."""
        self._count = 0

    def take(self, at: float, gauge_pa: float) -> str:
        """Return in words why the digits stand still though they may not; empty: they may."""
        last, self._last = self._last, (at, gauge_pa)
        if last is not None and gauge_pa != last[1]:
            self._heat.moved(gauge_pa - last[1], at - self._since)
        if last is None or self._count == 0 or gauge_pa != last[1]:
            self._since, self._count = at, 1
            self._noise_says = False
        else:
            self._count += 1
        if not self._open:
            self._at_rest.append((at, gauge_pa))
        filling = self._filling
        if filling is None:
            return ""
        self._follow_valve(filling, gauge_pa)
        stood = at - self._since
        if not self._open or stood < LEAST_S:
            return ""
        return self._judge(filling, at, gauge_pa, stood)

    def _follow_valve(self, filling: Filling, gauge_pa: float) -> None:
        """Take the valve as open after a rise, and as shut once the pressure has fallen."""
        if not self._open:
            self._low = min(self._low, gauge_pa)
            rise = max(DIGITS * filling.digit_pa, OPENED * filling.target_pa)
            if gauge_pa - self._low > rise:
                self._open, self._high = True, gauge_pa
            return
        self._high = max(self._high, gauge_pa)
        fall = max(DIGITS * filling.digit_pa, 0.5 * OPENED * filling.target_pa)
        if self._high - gauge_pa >= fall:
            self._open, self._low = False, gauge_pa

    def _judge(self, filling: Filling, at: float, gauge_pa: float, stood: float) -> str:
        digit = filling.digit_pa
        if at - self._looked >= LOOK_EVERY_S:
            self._looked = at
            self._noise_says = self._noise_denies(digit, gauge_pa, stood)
        if self._noise_says:
            return "no digit changes, though its own noise moves them"
        if digit and self._heat.least_fall_pa(stood) >= DIGITS * digit:
            return "no digit changes, though gas that was let in rises or cools"
        longest = max(OPEN_S, 3.0 * digit / (SLOWEST_RISE * filling.target_pa))
        if stood >= longest and not filling.said_shut:
            return "no digit changes, and nobody has said that the valve is shut"
        return ""

    def _noise_denies(self, digit: float, gauge_pa: float, stood: float) -> bool:
        """Return True when its noise at rest, before the gas, leaves such a standstill no chance.

        Flow makes a noise of its own, so that of the filling says nothing.
        """
        rest = np.array(self._at_rest, dtype=np.float64).reshape(-1, 2)
        if not len(rest):
            return False
        rest = rest[rest[:, 0] >= rest[-1, 0] - NOISE_OVER_S]
        step = stood / self._count
        at = np.concatenate((rest[:, 0] - rest[-1, 0] - step, np.arange(self._count) * step))
        values = np.concatenate((rest[:, 1], np.full(self._count, gauge_pa)))
        return standstill(at, values, len(rest), digit).chance < LEAST_CHANCE
