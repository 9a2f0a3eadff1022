"""Samples on the station's clock as a trace that can be stored."""

from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from benchstation.clock import Clock
from benchstation.store.traces import Trace


def utc_of(clock: Clock, at: float) -> datetime:
    """Give the UTC time of a moment on the station's clock."""
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
    """Give the trace of ``values`` (n,) at ``at`` (n,) seconds of the station's clock."""
    start = float(at[0]) if at.size else clock.seconds()
    return Trace(
        t_us=np.round((at - start) * 1e6).astype(np.int64),
        channels={name: np.ascontiguousarray(values)},
        units={name: unit},
        t0_utc=utc_of(clock, start),
        note=note,
    )
