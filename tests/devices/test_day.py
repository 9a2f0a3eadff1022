"""A day of readings at 50 Hz without waiting for it: memory stays flat, every reading counts."""

import gc
import tracemalloc

import pytest

from benchstation.devices.instrument import Instrument
from benchstation.devices.profile import load_profile
from benchstation.driver_api.reading import Fault, Health
from benchstation.link.raw_log import Direction, RawLog
from benchstation.metrology.calibration import LinearCalibration

RATE_HZ = 50
HOUR = 3600 * RATE_HZ


@pytest.mark.parametrize(
    "hours",
    [
        pytest.param(0.05, id="three minutes"),
        pytest.param(24, marks=[pytest.mark.soak, pytest.mark.timeout(1200)], id="a day"),
    ],
)
def test_memory_is_flat(hours):
    """Driver, raw log, instrument; one frame in a thousand is spoilt; nobody looks for a while."""
    now = [0.0]
    profile = load_profile("scale-status-first")
    made = Instrument("scale", "Scale", profile, LinearCalibration(), clock=lambda: now[0])
    driver, log = profile.make_driver(), RawLog(most_bytes=20_000)
    heard = {"samples": 0, "faults": 0}

    def tap(item):
        heard["faults" if isinstance(item, Fault) else "samples"] += 1

    made.taps.append(tap)
    taken = 0

    def run(first, count):
        nonlocal taken
        for number in range(first, first + count):
            now[0] = number / RATE_HZ
            frame = b"ST,NT,+%08.2f  g\r\n" % (number % 99_999 / 100)
            if number % 1000 == 999:
                frame = frame[:-4] + b"\r\n"
            log.add(now[0], Direction.RECEIVED, frame)
            for item in driver.feed(frame, now[0]):
                made.ingest(item)
            if number % 4096 == 0:
                taken += len(made.drain())
                assert made.health(now[0]).category is Health.GOOD

    total = int(hours * HOUR)
    warm = min(total // 3, HOUR)
    run(0, warm)
    tracemalloc.start()
    try:
        gc.collect()
        before = tracemalloc.get_traced_memory()[0]
        run(warm, total - warm)
        taken += len(made.drain())
        gc.collect()
        grown = tracemalloc.get_traced_memory()[0] - before
    finally:
        tracemalloc.stop()
    # What the bounded queues and logs hold is replaced by what is traced: their size, no more.
    assert grown < 3_000_000
    assert heard["samples"] + heard["faults"] == total
    assert heard["faults"] == total // 1000
    assert taken == heard["samples"]
    assert made.statistics.dropped == 0
