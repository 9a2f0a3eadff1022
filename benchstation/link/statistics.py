"""Where a line stands, what it did since the start, and how well it does now."""

import math
import threading
from collections import deque
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise
from statistics import fmean, pstdev

WINDOW = 512
"""Readings over which rate, gaps and answer times are told."""


class LinkState(StrEnum):
    """Where a line stands. ``LIVE``: frames are understood, if only to say overload."""

    SEARCHING = "searching"
    SILENT = "silent"
    LIVE = "live"
    LOST = "lost"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class LinkStatistics:
    """Counts since the start, and why the line was last lost; times in wall seconds.

    Rate, jitter and gap are those of the last readings (:data:`WINDOW`); ``nan`` where there are
    too few. Readings that come in one chunk count as one arrival for jitter and gap; the gap counts
    the silence since the last of them too.
    """

    readings: int = 0
    faults: int = 0
    received_bytes: int = 0
    connects: int = 0
    last_error: str = ""
    rejected: int = 0
    """Frames that gave no reading, a device's own reports of overload among them."""
    discarded_bytes: int = 0
    """Bytes that belonged to no frame."""
    dropped: int = 0
    """Readings that nobody took out of the bounded queue in time."""
    unanswered: int = 0
    """Requests that had no answer in time."""
    rate_hz: float = math.nan
    jitter_s: float = math.nan
    """Standard deviation of the time between arrivals."""
    longest_gap_s: float = math.nan
    answer_s: float = math.nan
    """Mean time from a request to its answer; ``nan`` where nothing is asked."""
    longest_answer_s: float = math.nan
    handling_s: float = math.nan
    """Longest time from bytes read to all that hangs on their readings done, guard included."""
    same_value_s: float = math.nan
    """How long the value has been exactly the same."""


class LinkMeter:
    """Takes note of arrivals and answers in the reader's thread; read by anyone."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._arrivals: deque[tuple[float, int]] = deque(maxlen=WINDOW)
        self._answers: deque[float] = deque(maxlen=WINDOW)
        self._handling: deque[float] = deque(maxlen=WINDOW)
        self._value = math.nan
        self._value_since = math.nan
        self._ended = math.inf

    def begin(self) -> None:
        """Forget arrivals: a gap while the line was lost is none of the device's."""
        with self._lock:
            self._arrivals.clear()
            self._ended = math.inf

    def end(self, at: float) -> None:
        """Take note that the line is read no more since then."""
        with self._lock:
            self._ended = at

    def arrived(self, at: float, values: list[float], handling_s: float) -> None:
        """Take note of one chunk's readings, read at ``at``."""
        with self._lock:
            self._handling.append(handling_s)
            if not values:
                return
            self._arrivals.append((at, len(values)))
            changed = [value for value in values if value != self._value]
            if changed:
                self._value, self._value_since = values[-1], at

    def answered(self, after_s: float) -> None:
        """Take note of how long an answer took."""
        with self._lock:
            self._answers.append(after_s)

    def added_to(self, counts: LinkStatistics, now: float) -> LinkStatistics:
        """Return ``counts`` with the figures that are told over the last readings."""
        with self._lock:
            arrivals, answers = list(self._arrivals), list(self._answers)
            handling, since = list(self._handling), self._value_since
            until = min(now, self._ended)
        gaps = [b[0] - a[0] for a, b in pairwise(arrivals)]
        span = arrivals[-1][0] - arrivals[0][0] if gaps else 0.0
        readings = sum(number for _, number in arrivals[1:])
        return replace(
            counts,
            rate_hz=readings / span if span > 0.0 else math.nan,
            jitter_s=pstdev(gaps) if gaps else math.nan,
            # A silence that has not ended is a gap already.
            longest_gap_s=max([*gaps, until - arrivals[-1][0]]) if arrivals else math.nan,
            answer_s=fmean(answers) if answers else math.nan,
            longest_answer_s=max(answers, default=math.nan),
            handling_s=max(handling, default=math.nan),
            same_value_s=now - since,
        )
