"""Whether the load grew as in a pour without a tare: that oil would be in no mass."""

SETTLED_AFTER_S, STAYS_S = 1.0, 0.4
JUMP_KG, JUMP_KG_S = 0.005, 0.15
"""A step of more than 5 g that comes faster than 150 g/s is put on or lifted, not poured."""


class LoadWatch:
    """Fed with loads and times while no tare holds; pure.

    What is put on or lifted is no pour, nor is the second in which the scale follows it: then the
    load is looked at anew. ``sense`` is -1 where the load falls by what is poured.
    """

    def __init__(self, least_kg: float, sense: int = 1) -> None:
        self._least_kg, self._sense = least_kg, sense
        self._last: tuple[float, float] | None = None
        self._quiet_from = float("-inf")
        self._lowest: float | None = None
        self._above_from: float | None = None
        self.grown = False
        """Whether it grew by more than any scale does by itself; stays so until looked at anew."""

    def begin(self, seen: tuple[float, float] | None = None) -> None:
        """Look anew, from the load seen last; ``seen``: its time, s, and the load, kg, if later."""
        if seen is not None:
            self._last = (seen[0], self._sense * seen[1])
        self.grown, self._above_from = False, None
        self._lowest = None if self._last is None else self._last[1]

    def take(self, at: float, value: float) -> None:
        """Take one reading, kg, at its time, s."""
        load, last = self._sense * value, self._last
        self._last = (at, load)
        if last is not None:
            change, took = abs(load - last[1]), at - last[0]
            if change > max(JUMP_KG, JUMP_KG_S * took):
                self._quiet_from = at + SETTLED_AFTER_S
        if at < self._quiet_from:
            self._lowest = self._above_from = None
            return
        self._lowest = load if self._lowest is None else min(self._lowest, load)
        if load - self._lowest <= self._least_kg:
            self._above_from = None
            return
        # A knock at the table comes and goes; oil stays.
        self._above_from = at if self._above_from is None else self._above_from
        self.grown = self.grown or at - self._above_from >= STAYS_S
