"""The switch that mutes an alarm's sound for a time."""

import math

from benchstation.bench.outputs.mute import MUTE_S, Mute, unacknowledged
from benchstation.domain.guard import GuardSnapshot
from benchstation.screens.model.elements import ActionView

KEY = "Shift+F12"


def mute_action(
    mute: Mute, now: float, seen: GuardSnapshot, *, signed_in: bool
) -> ActionView | None:
    """Return the switch while there is something to mute, with the time that is left on it."""
    if not unacknowledged(seen):
        return None
    left = math.ceil(mute.left_s(now))
    label = f"Muted {left} s" if left else f"Mute {MUTE_S:.0f} s"
    return ActionView("mute", label, KEY, signed_in, "" if signed_in else "sign in first")
