"""Muting an alarm's sound: for a time, by somebody, on record, and never for the next alarm."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchstation.domain.guard import AlarmState, GuardSnapshot, Transition

MUTE_S = 120.0


@dataclass(slots=True)
class Mute:
    """Until when the sound is muted, in station seconds. What is seen is muted by nothing."""

    until: float = -math.inf

    def mute(self, now: float) -> None:
        """Mute the sound from now on for a time."""
        self.until = now + MUTE_S

    def left_s(self, now: float) -> float:
        """Return the seconds that are left, 0 when it sounds."""
        return max(0.0, self.until - now)

    def tell(self, seen: GuardSnapshot, changes: Sequence[Transition]) -> None:
        """End it at any new alarm, and when there is nothing left to mute.

        Called where the guard is judged: a new alarm is heard whatever the bench waits for.
        """
        new = any(change.new is AlarmState.ACTIVE_UNACKNOWLEDGED for change in changes)
        if new or not unacknowledged(seen):
            self.until = -math.inf


def unacknowledged(seen: GuardSnapshot) -> tuple[str, ...]:
    """Return the episodes that are to be heard."""
    return tuple(alarm.episode for alarm in seen.alarms if alarm.state.unacknowledged)
