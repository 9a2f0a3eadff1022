"""The guard where it is judged: in the reader thread of each gauge, on every reading."""

import logging
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace

from benchstation.clock import Clock
from benchstation.devices.instrument import Instrument, Sample
from benchstation.domain.guard import AlarmView, Guard, GuardSnapshot, Transition, over_all
from benchstation.domain.guard_limits import GuardLimits
from benchstation.domain.standing_digits import Filling
from benchstation.driver_api.reading import Fault, FaultKind

log = logging.getLogger(__name__)
Tap = Callable[[Sample | Fault], None]
Listener = Callable[[GuardSnapshot, tuple[Transition, ...]], None]
_NOT_A_SIGNAL = (FaultKind.BAD_FRAME, FaultKind.BAD_CHECKSUM, FaultKind.NO_ANSWER)
"""A spoilt frame is counted; only a lasting lack of good ones is an alarm, by its age."""


class GuardWatch:
    """Feeds the pure guard of each gauge in the path and keeps the changes for the journal.

    ``on_change`` is called at once, in whichever thread found the change. The lock is held for
    microseconds; the guard waits for no window and no database.
    """

    def __init__(self, limits: GuardLimits, clock: Clock, on_change: Callable[[], None]) -> None:
        self._limits = limits
        self._armed = False
        self._guards: dict[str, Guard] = {}
        self._followed: dict[str, tuple[Instrument, Tap]] = {}
        self._clock = clock
        self._lock = threading.Lock()
        self._changes: list[Transition] = []
        self._filling: tuple[str, Filling | None] = "", None
        self._on_change = on_change
        self.changed = 0
        """Counts the changes of the guard since the start."""
        self.listeners: list[Listener] = []
        """Told of every judgement in the thread that made it, in order, while the guard is held:
        they take note and return at once."""

    def follow(self, gauge: Instrument, name: str, instead_of: str = "") -> None:
        """Judge a gauge of this id too, or in place of another.

        In place of another the guard goes on with what it knew; only who tells it is another.
        """
        with self._lock:
            guard = self._guards.pop(instead_of, None)
            if guard is None:
                guard = Guard(self._limits_of(gauge), armed=self._armed)
            else:
                before, tap = self._followed.pop(instead_of)
                before.taps.remove(tap)
            guard.gauge = name
            self._guards[name] = guard
            self._followed[name] = gauge, self._tap(guard)
            gauge.taps.append(self._followed[name][1])
        self.set_limits(self._limits)

    def judge_only(self, names: Sequence[str]) -> None:
        """Judge the gauges of these ids alone from now on, in their order.

        A gauge with an open alarm is never let go: its caller has seen that there is none.
        """
        with self._lock:
            for gone in set(self._guards) - set(names):
                del self._guards[gone]
                before, tap = self._followed.pop(gone)
                before.taps.remove(tap)
            self._guards = {name: self._guards[name] for name in names}
        self.set_limits(self._limits)

    @property
    def gauges(self) -> tuple[str, ...]:
        """Return the ids of the gauges that are judged."""
        with self._lock:
            return tuple(self._guards)

    def arm(self) -> None:
        """Declare the gauges present, so that their silence counts."""
        self._armed = True
        self._judge(lambda guard: guard.set_armed(self._clock.seconds(), True))

    def _tap(self, guard: Guard) -> Tap:
        """Return what has this guard judge what the reader of its gauge just got."""

        def judge(item: Sample | Fault) -> None:
            if isinstance(item, Sample):
                self._judge(lambda guard: guard.judge_reading(item.at, item.value), guard)
            elif item.kind in _NOT_A_SIGNAL:
                self._judge(lambda guard: guard.judge_time(item.at), guard)
            elif item.kind is FaultKind.OVER_RANGE:
                words = f"{item.kind}: {item.detail}"
                self._judge(lambda guard: guard.judge_over_range(item.at, words), guard)
            else:
                words = f"{item.kind}: {item.detail}"
                self._judge(lambda guard: guard.judge_fault(item.at, words), guard)

        return judge

    def check(self) -> None:
        """Judge the time that has passed, for a gauge that says nothing."""
        self._judge(lambda guard: guard.judge_time(self._clock.seconds()))

    def acknowledge(self, person: str, reason: str, episode: str) -> None:
        """Acknowledge an episode; raises ``GuardError`` when a person or reason is missing."""
        self._judge(
            lambda guard: guard.acknowledge(self._clock.seconds(), person, reason, episode=episode)
        )

    def resume(self, alarm: AlarmView) -> None:
        """Have an alarm open again that was open when the program ended.

        That of a gauge that is no longer there is kept by the first in the path.
        """
        with self._lock:
            guard = self._guards.get(alarm.gauge) or next(iter(self._guards.values()))
        self._judge(lambda guard: guard.resume(alarm), guard)
        self.changed += 1
        self._on_change()

    def set_filling(self, gauge: str, filling: Filling | None) -> None:
        """Hold the digits of this gauge against gas that is let in now; ``None``: none is."""
        if (gauge, filling) == self._filling:
            return
        self._filling = gauge, filling
        self._judge(lambda guard: guard.set_filling(filling if guard.gauge == gauge else None))

    def set_limits(self, limits: GuardLimits) -> None:
        """Judge against other limits from now on; each gauge has its own time to be silent."""
        self._limits = limits
        self._judge(
            lambda guard: guard.set_limits(
                self._clock.seconds(), self._limits_of(self._followed[guard.gauge][0])
            )
        )

    def _limits_of(self, gauge: Instrument) -> GuardLimits:
        return replace(self._limits, stale_after_s=gauge.silent_after_s)

    def _judge(
        self, judge: Callable[[Guard], tuple[Transition, ...]], alone: Guard | None = None
    ) -> None:
        """Judge by one guard or by all of them, and tell the listeners."""
        with self._lock:
            judged = self._guards.values() if alone is None else (alone,)
            changes = tuple(change for guard in judged for change in judge(guard))
            self._changes += changes
            self.changed += len(changes)
            if self.listeners:
                self._tell(self._seen(), changes)
        if changes:
            self._on_change()

    def _tell(self, seen: GuardSnapshot, changes: tuple[Transition, ...]) -> None:
        for listener in self.listeners:
            try:
                listener(seen, changes)
            except Exception:  # whatever an output does, the guard goes on
                log.exception("a listener of the guard failed")

    def _seen(self) -> GuardSnapshot:
        return over_all([guard.snapshot() for guard in self._guards.values()])

    @property
    def limits(self) -> GuardLimits:
        """Return the limits in force."""
        return self._limits

    def snapshot(self) -> GuardSnapshot:
        """Return the state of all guards now, the worst alarm first."""
        with self._lock:
            return self._seen()

    def take_changes(self) -> list[Transition]:
        """Return the changes since the last call, oldest first, for the journal."""
        with self._lock:
            changes, self._changes = self._changes, []
        return changes
