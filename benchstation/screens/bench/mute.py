"""The switch that mutes an alarm's sound for a time."""

import math

from benchstation.bench.outputs.mute import MUTE_S, Mute, unacknowledged
from benchstation.domain.guard import GuardSnapshot
from benchstation.quantities.notation import fixed
from benchstation.screens.model.elements import ActionView

KEY = "Shift+F12"


def mute_action(
    mute: Mute, now: float, seen: GuardSnapshot, *, signed_in: bool
) -> ActionView | None:
    """Return the switch while there is something to mute, with the time that is left on it."""
    ringing = unacknowledged(seen)
    if not ringing:
        return None
    left = math.ceil(mute.left_s(now))
    label = f"Muted {left} s" if left else f"Mute {fixed(MUTE_S, 0)} s"
    why_not = mute.why_not(ringing) if signed_in else "sign in first"
    return ActionView("mute", label, KEY, not why_not, why_not)
