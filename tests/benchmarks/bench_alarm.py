"""How long from a byte on the line to the guard's alarm, against a bare pySerial read loop.

    python tests/benchmarks/bench_alarm.py [seconds]

Another process writes a gauge's frames at 100 Hz to a pseudo-terminal, every second one above the
limit; both loops take turns.
"""

import multiprocessing
import os
import statistics
import sys
import threading
import time
import tty
from multiprocessing.connection import Connection

import serial

from benchstation.devices.instrument import Instrument, Sample
from benchstation.devices.profile import load_profile
from benchstation.domain.guard import AlarmKind, AlarmState, Guard
from benchstation.domain.guard_limits import GuardLimits
from benchstation.driver_api.reading import Fault
from benchstation.metrology.calibration import LinearCalibration

RATE_HZ, TURNS, GOAL_S = 100.0, 4, 0.010
LOW, HIGH = b"+0010.00 bar\r\n", b"+0031.00 bar\r\n"
LIMITS = GuardLimits(
    warning_gauge_pa=20e5,
    limit_gauge_pa=30e5,
    limit_source="hose",
    hysteresis_pa=1e5,
    warning_on_delay_s=0.0,
    off_delay_s=0.0,
    max_rate_pa_s=1e12,
)


def write_frames(parent: Connection, seconds: float) -> None:
    """Serve a pseudo-terminal; hand back when each frame above the limit was written."""
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    parent.send(os.ttyname(slave))
    parent.recv()
    written = []
    begin = time.perf_counter()
    for count in range(int(seconds * RATE_HZ)):
        time.sleep(max(0.0, begin + count / RATE_HZ - time.perf_counter()))
        if count % 2:
            written.append(time.perf_counter())
        os.write(master, HIGH if count % 2 else LOW)
    parent.send(written)
    parent.recv()


class Watched:
    """The station's way: reader thread, driver, calibration, guard."""

    def __init__(self, url: str) -> None:
        self.seen: list[float] = []
        self._guard = Guard(LIMITS)
        self._instrument = Instrument(
            "gauge",
            "Gauge",
            load_profile("gauge-value-unit"),
            LinearCalibration(),
            clock=time.perf_counter,
        )
        self._instrument.taps.append(self._judge)
        self._instrument.connect(url)

    def _judge(self, item: Sample | Fault) -> None:
        assert isinstance(item, Sample)
        changes = self._guard.judge_reading(item.at, item.value)
        for change in changes:
            if change.kind is AlarmKind.HIGH_LIMIT and change.new.active:
                assert self._guard.snapshot().worst is not None
                self.seen.append(time.perf_counter())
            elif change.new is AlarmState.RETURNED_UNACKNOWLEDGED:
                self._guard.acknowledge(item.at, "bench", "measured")

    def stop(self) -> None:
        self._instrument.stop()


class Bare:
    """The least that a program can do: read, split, compare."""

    def __init__(self, url: str) -> None:
        self.seen: list[float] = []
        self._stop = threading.Event()
        self._port = serial.Serial(url, timeout=0.1, exclusive=True)
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        rest = b""
        while not self._stop.is_set():
            rest += self._port.read(max(1, self._port.in_waiting))
            *lines, rest = rest.split(b"\n")
            for line in lines:
                if float(line[:8]) > 30.0:
                    self.seen.append(time.perf_counter())
        self._port.close()

    def stop(self) -> None:
        self._stop.set()
        self._thread.join()


def delays(kind: type[Watched] | type[Bare], seconds: float) -> list[float]:
    """Return the time from writing to seeing of every frame above the limit, in seconds."""
    parent, child = multiprocessing.Pipe()
    writer = multiprocessing.Process(target=write_frames, args=(child, seconds))
    writer.start()
    loop = kind(parent.recv())
    time.sleep(0.2)
    parent.send("go")
    written = parent.recv()
    time.sleep(0.2)
    loop.stop()
    parent.send("done")
    writer.join()
    assert len(loop.seen) == len(written), f"{len(loop.seen)} seen of {len(written)}"
    return [seen - sent for seen, sent in zip(loop.seen, written, strict=True)]


def main(seconds: float) -> int:
    """Print medians and 99th percentiles; gives 1 when the goal is missed."""
    multiprocessing.set_start_method("spawn")
    found: dict[str, list[float]] = {"station": [], "bare": []}
    for _ in range(TURNS):
        found["station"] += delays(Watched, seconds / TURNS)
        found["bare"] += delays(Bare, seconds / TURNS)
    p99 = {}
    for name, times in found.items():
        p99[name] = statistics.quantiles(times, n=100)[98]
        middle, worst = statistics.median(times), max(times)
        print(
            f"{name:8} {len(times)} alarms: median {middle * 1e3:.2f} ms, "
            f"p99 {p99[name] * 1e3:.2f} ms, worst {worst * 1e3:.2f} ms"
        )
    above = p99["station"] - p99["bare"]
    verdict = "meets" if above <= GOAL_S else "MISSES"
    print(
        f"p99 {above * 1e3:+.2f} ms above bare ({p99['station'] / p99['bare']:.2f} times); "
        f"{verdict} {GOAL_S * 1e3:.0f} ms"
    )
    return 0 if above <= GOAL_S else 1


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else 20.0))
