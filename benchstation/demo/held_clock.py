"""Bench time that waits for the hand: a busy machine slows the bench down, and spoils no play."""

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from benchstation.clock import Clock

AHEAD_S = 0.4


class HeldClock:
    """Runs ``pace`` times as fast as the wall, but at most :data:`AHEAD_S` past the last step.

    Without it a hand that is late by a few milliseconds pours for seconds of bench time too long.
    """

    def __init__(self, pace: float, wall: Callable[[], float] = time.perf_counter) -> None:
        self._pace, self._wall = pace, wall
        self._lock = threading.Lock()
        self._read_at = wall()
        self._now = 0.0
        self._until = AHEAD_S
        self._start_utc = datetime.now(UTC)
        self.clock = Clock(self.seconds, self.utc, pace)

    def seconds(self) -> float:
        """Return the bench time in s."""
        with self._lock:
            at = self._wall()
            self._now = min(self._now + (at - self._read_at) * self._pace, self._until)
            self._read_at = at
            return self._now

    def utc(self) -> datetime:
        """Return the UTC time."""
        return self._start_utc + timedelta(seconds=self.seconds())

    def skip(self, seconds: float) -> None:
        """Let so much bench time have passed at once: the station is closed meanwhile."""
        now = self.seconds()
        with self._lock:
            self._now = self._until = now + seconds

    def step(self) -> None:
        """Let bench time continue: the hand has looked."""
        now = self.seconds()
        with self._lock:
            self._until = now + AHEAD_S
