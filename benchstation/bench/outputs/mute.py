"""Muting an alarm's sound: for a time, by somebody, on record, and never for the next alarm."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from benchstation.domain.guard import AlarmState, GuardSnapshot, Transition

MUTE_S = 120.0
MOST_IN_A_ROW = 2
"""How often the sound of one episode is muted before somebody has acknowledged it."""


@dataclass(slots=True)
class Mute:
    """Until when the sound is muted, in station seconds. What is seen is muted by nothing."""

    until: float = -math.inf
    muted: dict[str, int] = field(default_factory=dict)
    """How often each episode that is to be heard was muted."""

    def why_not(self, ringing: Sequence[str]) -> str:
        """Return why these episodes are not muted once more; empty: nothing against it."""
        if any(self.muted.get(episode, 0) >= MOST_IN_A_ROW for episode in ringing):
            return f"muted {MOST_IN_A_ROW} times already: acknowledge it"
        return ""

    def mute(self, now: float, ringing: Sequence[str]) -> None:
        """Mute the sound of these episodes from now on for a time."""
        self.until = now + MUTE_S
        self.muted = {episode: self.muted.get(episode, 0) + 1 for episode in ringing}

    def left_s(self, now: float) -> float:
        """Return the seconds that are left, 0 when it sounds."""
        return max(0.0, self.until - now)

    def tell(self, seen: GuardSnapshot, changes: Sequence[Transition]) -> None:
        """End it at any new alarm, and when there is nothing left to mute.

        Called where the guard is judged: a new alarm is heard whatever the bench waits for.
        """
        new = any(change.new is AlarmState.ACTIVE_UNACKNOWLEDGED for change in changes)
        ringing = unacknowledged(seen)
        if new or not ringing:
            self.until = -math.inf
        if changes:
            self.muted = {e: count for e, count in self.muted.items() if e in ringing}


def unacknowledged(seen: GuardSnapshot) -> tuple[str, ...]:
    """Return the episodes that are to be heard."""
    return tuple(alarm.episode for alarm in seen.alarms if alarm.state.unacknowledged)
