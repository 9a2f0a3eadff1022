"""How long nobody has touched the bench. Pure; the times come from outside, in s."""

import math
from dataclasses import dataclass

WARN_S = 30.0
"""So long before it happens the signing out is told, also when something else held it up."""
FLOW_PA, FLOW_S = 3e3, 20.0
"""Gas counts as flowing when the gauge has moved this far within this time."""


@dataclass(slots=True)
class Idle:
    """When the bench was last touched and last occupied. ``after_s`` 0: nobody is signed out."""

    after_s: float = 0.0
    stirred_at: float = 0.0
    occupied_at: float = -math.inf
    judged_at: float = 0.0
    unkept: bool = False
    """The window holds a text that would be missed."""
    _gauge_pa: float | None = None
    _moved_at: float = -math.inf

    def stir(self, now: float) -> None:
        """Take note of a key, a click or a scan."""
        self.stirred_at = now

    def sign_out_after(self, after_s: float) -> None:
        """Set how long nobody may have touched the bench; 0: nobody is signed out."""
        self.after_s = after_s

    def hold_text(self, unkept: bool) -> None:
        """Take note whether the window holds a text that would be missed."""
        self.unkept = unkept

    def judge(self, now: float, *, occupied: bool) -> None:
        """Take note of a judgement, and whether something held the signing out up."""
        self.judged_at = now
        if occupied:
            self.occupied_at = now

    def left_s(self, now: float) -> float:
        """Return the time left, at least the warning's after anything that held it up."""
        return max(self.after_s - (now - self.stirred_at), WARN_S - (now - self.occupied_at))

    def see_gauge(self, gauge_pa: float | None, now: float) -> None:
        """Take the gauge's present reading; ``None`` for none, which says nothing."""
        if gauge_pa is None:
            return
        if self._gauge_pa is None:
            self._gauge_pa = gauge_pa
        elif abs(gauge_pa - self._gauge_pa) > FLOW_PA:
            self._gauge_pa, self._moved_at = gauge_pa, now

    def gas_moves(self, now: float) -> bool:
        """Return True when gas flowed within the last while."""
        return now - self._moved_at < FLOW_S
