"""How far gas that was just let in must still fall as it cools, told from the rise alone.

Energy of an open chamber of constant volume, ideal gas, supply at the wall's temperature T0
(Moran and Shapiro, Fundamentals of Engineering Thermodynamics, control volumes):
``m cv dT/dt = mdot (cp T0 - cv T) - h (T - T0)``. With p = m R T / V and the pressure p_i = m R T0
/ V that the gas comes to, e = p - p_i is what cooling will still take, and tau = m cv / h the time
constant at which it does behind a closed valve. Then ``de/dt = k dp/dt - e / (gamma tau)`` with
``k = (gamma - 1) / gamma``: the mass that flows need not be known. The elimination is our own.
"""

import math
from collections.abc import Sequence

GAMMA = 1.4
"""Of nitrogen as an ideal diatomic gas."""
SHARE = (GAMMA - 1.0) / GAMMA
USUAL_TAUS_S = (2.0, 5.0, 12.0, 30.0, 60.0)
"""What small chambers cool with; our choice of the ends, which the settling fit shares above."""


class FillHeat:
    """Follows a pressure and knows the excess that cooling must take, for each time constant."""

    def __init__(self, taus_s: Sequence[float] = USUAL_TAUS_S) -> None:
        self._taus = tuple(taus_s)
        self._excess_pa = [0.0] * len(self._taus)

    def moved(self, change_pa: float, seconds: float) -> None:
        """Take a change of the pressure over some seconds."""
        for n, tau in enumerate(self._taus):
            kept = self._excess_pa[n] * math.exp(-seconds / (GAMMA * tau))
            self._excess_pa[n] = kept + SHARE * change_pa

    def least_fall_pa(self, seconds: float) -> float:
        """Return the least that the pressure must fall by within ``seconds`` of a closed valve."""
        falls = (
            excess * -math.expm1(-seconds / tau)
            for excess, tau in zip(self._excess_pa, self._taus, strict=True)
        )
        return max(0.0, min(falls))
