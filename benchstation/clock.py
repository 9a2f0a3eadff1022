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


def running_clock(pace: float = 1.0) -> Clock:
    """Give a clock that runs ``pace`` times as fast as the wall clock from now on."""
    if pace == 1.0:
        return Clock(time.perf_counter, lambda: datetime.now(UTC))
    start = time.perf_counter()
    start_utc = datetime.now(UTC)

    def seconds() -> float:
        return (time.perf_counter() - start) * pace

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
        """Give the seconds since the start."""
        return self._now

    def utc(self) -> datetime:
        """Give the UTC time."""
        return self._start_utc + timedelta(seconds=self._now)

    def advance(self, seconds: float) -> float:
        """Go on by ``seconds`` and give the new time."""
        self._now += seconds
        return self._now
