"""How long from a gauge's byte to the lamp's command on its own line, against a bare loop.

    python tests/benchmarks/bench_lamp.py [seconds]

Another process writes a gauge's frames at 100 Hz to one pseudo-terminal, now and then above the
limit until the alarm's command comes out of another, and takes the time of that. The station's way
is reader, driver, guard, lamp's thread; the bare loop reads, compares and writes. Both take turns
in the same run; the station once more with a busy pure-Python thread beside it.
"""

import contextlib
import math
import multiprocessing
import os
import select
import statistics
import sys
import threading
import time
import tty
from functools import partial
from multiprocessing.connection import Connection

import serial

from benchstation.bench.guard_watch import GuardWatch
from benchstation.bench.outputs.assembly import lamp_from
from benchstation.clock import running_clock
from benchstation.config.settings import LampCommands, LampSettings
from benchstation.crash import prepare_process
from benchstation.devices.instrument import Instrument, Sample
from benchstation.devices.profile import load_profile
from benchstation.domain.guard_limits import GuardLimits
from benchstation.driver_api.reading import Fault
from benchstation.metrology.calibration import LinearCalibration

RATE_HZ, LOW_FRAMES, LONGEST_S = 100.0, 3, 5.0
TURNS, GOAL_S = 4, 0.010
LOW, HIGH = b"+0010.00 bar\r\n", b"+0031.00 bar\r\n"
ALARM, NORMAL = "A", "n"
COMMANDS = LampCommands(normal=NORMAL, warning="w", alarm=ALARM, acknowledged="a", lost="l")
LIMITS = GuardLimits(
    warning_gauge_pa=29e5,
    limit_gauge_pa=30e5,
    limit_source="hose",
    hysteresis_pa=1e5,
    warning_on_delay_s=60.0,
    off_delay_s=0.0,
    max_rate_pa_s=1e12,
)


def raw_pty() -> tuple[int, int, str]:
    """Open a pseudo-terminal; give its ends and its name."""
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    return master, slave, os.ttyname(slave)


def line_and_lamp(parent: Connection, seconds: float) -> None:
    """Serve gauge and lamp; hand back how long each alarm took, in s."""
    gauge, _, gauge_name = raw_pty()
    lamp, _, lamp_name = raw_pty()
    parent.send((gauge_name, lamp_name))
    parent.recv()
    took: list[float] = []
    end, begun, normal = time.perf_counter() + seconds, math.nan, 0
    while (now := time.perf_counter()) < end or not math.isnan(begun):
        if math.isnan(begun) and normal >= LOW_FRAMES:
            begun, normal = now, 0
        assert not now - begun > LONGEST_S, "an alarm was never shown"
        os.write(gauge, LOW if math.isnan(begun) else HIGH)
        # The next alarm waits until the lamp shows that the last one is over.
        normal += normal > 0
        due = now + 1 / RATE_HZ
        while (left := due - time.perf_counter()) > 0:
            if select.select([lamp], [], [], left)[0]:
                got, at = os.read(lamp, 4096), time.perf_counter()
                if ALARM.encode() in got and not math.isnan(begun):
                    took.append(at - begun)
                    begun = math.nan
                if NORMAL.encode() in got and math.isnan(begun):
                    normal = max(normal, 1)
    parent.send(took)
    parent.recv()


class Watched:
    """The station's way, each alarm acknowledged at once so that the next one is new."""

    def __init__(self, gauge: str, lamp: str, *, busy: bool) -> None:
        clock = running_clock()
        self._watch = GuardWatch(LIMITS, clock, lambda: None)
        settings = LampSettings(url=lamp, text=COMMANDS, refresh_s=60)
        self._lamp = lamp_from(settings, None, 1.0)
        self._watch.listeners.append(self._lamp.tell)
        self._instrument = Instrument(
            "gauge",
            "Gauge",
            load_profile("gauge-value-unit"),
            LinearCalibration(),
            clock=clock.seconds,
        )
        self._watch.follow(self._instrument, "gauge-1")
        self._instrument.taps.append(self._acknowledge)
        self._stop = threading.Event()
        self._busy = threading.Thread(target=self._work)
        if busy:
            self._busy.start()
        self._lamp.start()
        self._instrument.connect(gauge)

    def _acknowledge(self, item: Sample | Fault) -> None:
        if isinstance(item, Sample) and item.value < LIMITS.warning_gauge_pa:
            for alarm in self._watch.snapshot().alarms:
                self._watch.acknowledge("bench", "measured", alarm.episode)

    def _work(self) -> None:
        while not self._stop.is_set():
            sum(range(1000))

    def stop(self) -> None:
        """End all threads."""
        self._stop.set()
        if self._busy.ident is not None:
            self._busy.join()
        self._instrument.stop()
        self._lamp.close()


class Bare:
    """The least that a program can do: read, split, compare, write."""

    def __init__(self, gauge: str, lamp: str) -> None:
        self._stop = threading.Event()
        self._gauge = serial.Serial(gauge, timeout=0.1, exclusive=True)
        self._lamp = serial.Serial(lamp, exclusive=True)
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        rest = b""
        while not self._stop.is_set():
            rest += self._gauge.read(max(1, self._gauge.in_waiting))
            *lines, rest = rest.split(b"\n")
            for line in lines:
                self._lamp.write(ALARM.encode() if float(line[:8]) > 30.0 else NORMAL.encode())
        self._gauge.close()
        self._lamp.close()

    def stop(self) -> None:
        """End the thread."""
        self._stop.set()
        self._thread.join()


WAYS = {
    "station": partial(Watched, busy=False),
    "busy": partial(Watched, busy=True),
    "bare": Bare,
}


def delays(way: str, seconds: float) -> list[float]:
    """Return the time from writing a frame above the limit to its command coming out, s."""
    parent, child = multiprocessing.Pipe()
    other = multiprocessing.Process(target=line_and_lamp, args=(child, seconds), daemon=True)
    other.start()
    child.close()
    loop = WAYS[way](*parent.recv())
    try:
        time.sleep(0.3)
        parent.send("go")
        return list(parent.recv())
    finally:
        # Before the lines go: their names would be another's soon.
        loop.stop()
        with contextlib.suppress(OSError):
            parent.send("done")
        other.join()


def main(seconds: float) -> int:
    """Print medians and 99th percentiles; gives 1 when the goal is missed."""
    multiprocessing.set_start_method("spawn")
    prepare_process()
    found: dict[str, list[float]] = {way: [] for way in WAYS}
    for _ in range(TURNS):
        for way in WAYS:
            found[way] += delays(way, seconds / TURNS)
    p99 = {}
    for way, times in found.items():
        p99[way] = statistics.quantiles(times, n=100)[98]
        middle, worst = statistics.median(times), max(times)
        print(
            f"{way:8} {len(times)} alarms: median {middle * 1e3:.2f} ms, "
            f"p99 {p99[way] * 1e3:.2f} ms, worst {worst * 1e3:.2f} ms"
        )
    ratio = statistics.median(found["station"]) / statistics.median(found["bare"])
    above = p99["station"] - p99["bare"]
    verdict = "meets" if above <= GOAL_S else "MISSES"
    print(
        f"median {ratio:.2f} times bare, p99 {above * 1e3:+.2f} ms above bare; "
        f"{verdict} {GOAL_S * 1e3:.0f} ms"
    )
    return 0 if above <= GOAL_S else 1


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else 20.0))
