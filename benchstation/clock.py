"""The station's clock: seconds for readings, UTC for events, and the pace of a rehearsal."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta


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
    start_utc = datetime.now(UTC)

    def seconds() -> float:
        return (seconds_slept_too() - start) * pace

    def utc() -> datetime:
        return start_utc + timedelta(seconds=seconds())

    return Clock(seconds, utc, pace)


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
