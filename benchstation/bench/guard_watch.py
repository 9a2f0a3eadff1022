"""The guard where it is judged: in the gauge's reader thread, on every reading."""

import logging
import threading
from collections.abc import Callable

from benchstation.clock import Clock
from benchstation.devices.instrument import Sample
from benchstation.domain.guard import Guard, GuardLimits, GuardSnapshot, Transition
from benchstation.driver_api.reading import Fault, FaultKind

log = logging.getLogger(__name__)
Listener = Callable[[GuardSnapshot, tuple[Transition, ...]], None]
_NOT_A_SIGNAL = (FaultKind.BAD_FRAME, FaultKind.BAD_CHECKSUM, FaultKind.NO_ANSWER)
"""A spoilt frame is counted; only a lasting lack of good ones is an alarm, by its age."""


class GuardWatch:
    """Feeds the pure guard from the reader thread and keeps its changes for the journal.

    ``on_change`` is called at once, in whichever thread found the change. The lock is held for
    microseconds; the guard waits for no window and no database.
    """

    def __init__(self, limits: GuardLimits, clock: Clock, on_change: Callable[[], None]) -> None:
        self._guard = Guard(limits, armed=False)
        self._clock = clock
        self._lock = threading.Lock()
        self._changes: list[Transition] = []
        self._on_change = on_change
        self.changed = 0
        """Counts the changes of the guard since the start."""
        self.listeners: list[Listener] = []
        """Told of every judgement in the thread that made it, in order, while the guard is held:
        they take note and return at once."""

    def arm(self) -> None:
        """Say that there is a gauge, so that its silence counts."""
        self._judge(lambda guard: guard.set_armed(self._clock.seconds(), True))

    def tap(self, item: Sample | Fault) -> None:
        """Judge what the gauge's reader just got."""
        if isinstance(item, Sample):
            self._judge(lambda guard: guard.judge_reading(item.at, item.value))
        elif item.kind in _NOT_A_SIGNAL:
            self._judge(lambda guard: guard.judge_time(item.at))
        else:
            self._judge(lambda guard: guard.judge_fault(item.at, f"{item.kind}: {item.detail}"))

    def check(self) -> None:
        """Judge the time that has passed, for a gauge that says nothing."""
        self._judge(lambda guard: guard.judge_time(self._clock.seconds()))

    def acknowledge(self, person: str, reason: str, episode: str) -> None:
        """Acknowledge an episode; raises ``GuardError`` when a person or reason is missing."""
        self._judge(
            lambda guard: guard.acknowledge(self._clock.seconds(), person, reason, episode=episode)
        )

    def set_limits(self, limits: GuardLimits) -> None:
        """Judge against other limits from now on."""
        self._judge(lambda guard: guard.set_limits(self._clock.seconds(), limits))

    def _judge(self, judge: Callable[[Guard], tuple[Transition, ...]]) -> None:
        with self._lock:
            changes = judge(self._guard)
            self._changes += changes
            self.changed += len(changes)
            for listener in self.listeners:
                try:
                    listener(self._guard.snapshot(), changes)
                except Exception:  # whatever an output does, the guard goes on
                    log.exception("a listener of the guard failed")
        if changes:
            self._on_change()

    @property
    def limits(self) -> GuardLimits:
        """The limits in force."""
        return self._guard.limits

    def snapshot(self) -> GuardSnapshot:
        """Return the guard's state now."""
        with self._lock:
            return self._guard.snapshot()

    def take_changes(self) -> list[Transition]:
        """Return the changes since the last call, oldest first, for the journal."""
        with self._lock:
            changes, self._changes = self._changes, []
        return changes
