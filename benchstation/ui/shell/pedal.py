"""A foot pedal that types one key: one press is one action, however the key bounces or repeats.

No Qt and no clock in here: who has the key events says when they came.
"""

REST_S = 0.300
"""A second press sooner than this is the same foot."""


class Pedal:
    """Tells a press that counts from a bounce, a repeat and a foot that stays down."""

    def __init__(self) -> None:
        self._down = False
        self._last_s = float("-inf")

    def press(self, at_s: float, *, repeat: bool = False) -> bool:
        """Return True when the key down at ``at_s`` (seconds of a steady clock) is a press."""
        if repeat or self._down:
            return False
        self._down = True
        # Measured from the last time down, counted or not: a chatter never becomes a press.
        rested = at_s - self._last_s >= REST_S
        self._last_s = at_s
        return rested

    def release(self) -> None:
        """Note that the key came up, or that the keyboard went elsewhere."""
        self._down = False
