"""Samples on the station's clock as a trace that can be stored."""

from bisect import bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from benchstation.clock import Clock
from benchstation.link.raw_log import RawLog
from benchstation.store.traces import Trace

FloatArray = NDArray[np.float64]
MOST_SLICE_BYTES = 4096


def last_samples(
    times: Sequence[float], values: Sequence[float], seconds: float
) -> tuple[FloatArray, FloatArray]:
    """Return times in s (n,) and values (n,) that are not older than the last by ``seconds``."""
    start = bisect_right(times, times[-1] - seconds) if times else 0
    return np.asarray(times[start:]), np.asarray(values[start:])


def utc_of(clock: Clock, at: float) -> datetime:
    """Return the UTC time of a moment on the station's clock."""
    return clock.utc() - timedelta(seconds=clock.seconds() - at)


def trace_of(
    clock: Clock,
    at: NDArray[np.float64],
    values: NDArray[np.float64],
    *,
    name: str,
    unit: str,
    note: str = "",
) -> Trace:
    """Return the trace of ``values`` (n,) at ``at`` (n,) seconds of the station's clock."""
    start = float(at[0]) if at.size else clock.seconds()
    return Trace(
        t_us=np.round((at - start) * 1e6).astype(np.int64),
        channels={name: np.ascontiguousarray(values)},
        units={name: unit},
        t0_utc=utc_of(clock, start),
        note=note,
    )


def raw_slice(log: RawLog, now: float, seconds: float) -> tuple[str, ...]:
    """Return what went over a line in the last ``seconds``: age in s, way, and the bytes in hex.

    The newest 4 KiB are kept: a captured value is proven by its last frames.
    """
    kept: list[str] = []
    left = MOST_SLICE_BYTES
    for chunk in reversed(log.between(now - seconds, now)):
        left -= len(chunk.data)
        if left < 0:
            break
        kept.append(f"{now - chunk.at:.3f} {chunk.direction.value} {chunk.data.hex()}")
    return tuple(reversed(kept))
