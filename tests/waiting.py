"""Waiting for what a thread, a port or a process brings about: for a condition, not for a time."""

import time
from collections.abc import Callable

PATIENCE_S = 20.0
"""Long, since a busy machine is no fault; whoever tests a time looks at what comes back."""
LOOK_S = 0.002


def eventually(
    holds: Callable[[], object],
    within_s: float = PATIENCE_S,
    why: str | Callable[[], str] = "it did not come about in time",
) -> float:
    """Return how long it took until ``holds`` did; fail with ``why`` when it does not."""
    start = time.perf_counter()
    while not holds():
        waited = time.perf_counter() - start
        assert waited < within_s, why if isinstance(why, str) else why()
        time.sleep(LOOK_S)
    return time.perf_counter() - start


def stays(holds: Callable[[], object], for_s: float, why: str = "it did not stay so") -> None:
    """Fail with ``why`` when ``holds`` ends within a time. A slow machine looks less often."""
    end = time.perf_counter() + for_s
    while time.perf_counter() < end:
        assert holds(), why
        time.sleep(LOOK_S)
    assert holds(), why


def let_pass(seconds: float) -> None:
    """Let so much time go by, where the time itself is what is tested or stood in for."""
    time.sleep(seconds)
