"""The station's clock: seconds for readings, UTC for events, and the pace of a rehearsal."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

LONGEST_LOOK_S = 0.02
"""Wall time that nobody asked for the time of a rehearsal: what is longer is a stall."""


@dataclass(frozen=True, slots=True)
class Clock:
    """Bench time. ``pace`` says how much faster than the wall it runs; 1 on a real bench.

    ``seconds`` is monotonic and dates readings; ``utc`` dates events, whose order is the journal's.
    """

    seconds: Callable[[], float]
    utc: Callable[[], datetime]
    pace: float = 1.0


def seconds_slept_too() -> float:
    """Return seconds of a clock that nobody sets and that goes on while the machine sleeps.

    Linux's usual monotonic clock stands still in a suspend: a reading from before it would pass for
    one of this moment (clock_gettime(2), CLOCK_BOOTTIME). What macOS calls CLOCK_MONOTONIC and the
    performance counter of Windows go on (from memory).
    """
    return time.clock_gettime(_SLEPT_TOO) if _SLEPT_TOO is not None else time.perf_counter()


_SLEPT_TOO: int | None = getattr(time, "CLOCK_BOOTTIME", getattr(time, "CLOCK_MONOTONIC", None))


def running_clock(pace: float = 1.0) -> Clock:
    """Return a clock that runs ``pace`` times as fast as the wall clock from now on."""
    if pace == 1.0:
        return Clock(seconds_slept_too, lambda: datetime.now(UTC))
    start = seconds_slept_too()
    return _paced(lambda: (seconds_slept_too() - start) * pace, pace)


def rehearsal_clock(pace: float) -> Clock:
    """Return a running clock that stands still while the program gets no time.

    For a bench, its devices and its hand in one process: a hand that pours sixty times as fast
    would put a whole fill on the scale in one go.
    """
    return _paced(_Pacer(pace).seconds, pace)


def _paced(seconds: Callable[[], float], pace: float) -> Clock:
    start_utc = datetime.now(UTC)
    return Clock(seconds, lambda: start_utc + timedelta(seconds=seconds()), pace)


class _Pacer:
    """Counts the time between looks, the longest of them cut; every thread looks often."""

    def __init__(self, pace: float) -> None:
        self._pace = pace
        self._lock = threading.Lock()
        self._looked, self._passed = seconds_slept_too(), 0.0

    def seconds(self) -> float:
        """Return the seconds since the start, as they pass here."""
        with self._lock:
            now = seconds_slept_too()
            self._passed += min(now - self._looked, LONGEST_LOOK_S) * self._pace
            self._looked = now
            return self._passed


class StepClock:
    """A clock that stands still until told: for making history from virtual devices."""

    def __init__(self, start_utc: datetime) -> None:
        self._now = 0.0
        self._start_utc = start_utc
        self.clock = Clock(self.seconds, self.utc)

    def seconds(self) -> float:
        """Return the seconds since the start."""
        return self._now

    def utc(self) -> datetime:
        """Return the UTC time."""
        return self._start_utc + timedelta(seconds=self._now)

    def advance(self, seconds: float) -> float:
        """Go on by ``seconds`` and give the new time."""
        self._now += seconds
        return self._now
