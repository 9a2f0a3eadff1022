"""What devices cost and what damage gets through, as ratios against bare loops in the same run.

    python tests/benchmarks/bench_devices.py [seconds]

Parsing: frames a second of every shipped profile against slicing the stream where its frames end.
Load: two devices at 100 Hz with reader threads, as a share of one core, against bare read loops.
Damage: how often a damaged frame still reads as another value.
"""

import math
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from itertools import cycle, islice
from pathlib import Path

import serial

from benchstation.bench.outputs.feed import Feed, Source
from benchstation.clock import running_clock
from benchstation.devices.instrument import Instrument
from benchstation.devices.profile import Profile, load_profile
from benchstation.metrology.calibration import LinearCalibration
from sample_devices.bench_model import BenchModel
from sample_devices.host import PtyHost
from sample_devices.scale import VirtualScale
from sample_devices.transducer import VirtualTransducer

sys.path.insert(0, str(Path(__file__).parents[2]))
from tests.drivers import damage

FRAMES, ROUNDS, CHUNK = 20_000, 3, 4096
TEXT_GOAL, MODBUS_GOAL, LOAD_GOAL = 100_000.0, 30_000.0, 0.05
RATE_HZ = 100.0


def best(work: Callable[[], None]) -> float:
    """Return the shortest time of a few rounds, seconds."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def parsing(profile: Profile) -> bool:
    """Print frames a second and their ratio to a bare loop; says whether the goal was missed."""
    frames = list(islice(cycle(damage.good_frames(profile)), FRAMES))
    data = b"".join(frames)
    chunks = [data[at : at + CHUNK] for at in range(0, len(data), CHUNK)]
    lengths = [len(frame) for frame in frames]

    def bare() -> None:
        at = 0
        for length in lengths:
            frame = data[at : at + length]
            at += len(frame)

    def driven() -> None:
        driver = profile.make_driver()
        count = sum(len(driver.feed(chunk, 0.0)) for chunk in chunks)
        assert count >= FRAMES - 2, count

    spent = best(driven)
    rate = FRAMES / spent
    goal = TEXT_GOAL if profile.driver == "text_line" else MODBUS_GOAL
    verdict = "meets" if rate >= goal else "MISSES"
    ratio = spent / best(bare)
    print(f"{profile.id:28} {rate:10,.0f}/s  {ratio:7.1f} times bare  {verdict} {goal:,.0f}/s")
    return rate < goal


def bare_loop(url: str, stop: threading.Event) -> threading.Thread:
    """Start the least that a program can do with a line."""

    def run() -> None:
        with serial.Serial(url, timeout=0.1) as port:
            rest = b""
            while not stop.is_set():
                rest += port.read(max(1, port.in_waiting))
                *lines, rest = rest.split(b"\n")
                _ = [float(line[-11:-4] or b"0") for line in lines if len(line) > 12]

    thread = threading.Thread(target=run)
    thread.start()
    return thread


def processor_s(seconds: float, hosts: list[PtyHost]) -> float:
    """Return processor's time of this process in so many seconds, less the virtual devices' own.

    Theirs is taken from their threads in the same seconds: it depends on who reads and how.
    """
    clocks = [time.pthread_getcpuclockid(host._thread.ident) for host in hosts]

    def spent() -> float:
        return time.process_time() - sum(time.clock_gettime(clock) for clock in clocks)

    start = spent()
    time.sleep(seconds)
    return spent() - start


def with_feed(
    instruments: list[Instrument], seconds: float, hosts: list[PtyHost]
) -> tuple[float, int]:
    """Return the processor's time with a reading feed and one client, and the lines it got."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        number = probe.getsockname()[1]
    sources = tuple(Source(one, one.role) for one in instruments)
    feed = Feed(number, "bench", running_clock(), sources)
    feed.start()
    time.sleep(0.3)
    counter = (
        "import socket, sys\n"
        "file = socket.create_connection(('127.0.0.1', int(sys.argv[1]))).makefile('rb')\n"
        "print(sum(1 for _ in file))"
    )
    with subprocess.Popen(
        [sys.executable, "-c", counter, str(number)], stdout=subprocess.PIPE, text=True
    ) as client:
        time.sleep(0.5)
        spent = processor_s(seconds, hosts)
        feed.close()
        return spent, int(client.communicate()[0])


def load(seconds: float) -> bool:
    """Print the load of two devices."""
    model = BenchModel()
    hosts = [
        PtyHost(VirtualScale(model, rate_hz=RATE_HZ), time.perf_counter),
        PtyHost(VirtualTransducer(model, rate_hz=RATE_HZ), time.perf_counter),
    ]
    stop = threading.Event()
    threads = [bare_loop(host.url, stop) for host in hosts]
    bare = processor_s(seconds, hosts)
    stop.set()
    for thread in threads:
        thread.join()
    made = []
    for host, name in zip(hosts, ("scale-status-first", "gauge-value-unit"), strict=True):
        profile = load_profile(name)
        instrument = Instrument(name, name, profile, LinearCalibration(), clock=time.perf_counter)
        instrument.connect(host.url)
        made.append(instrument)
    time.sleep(0.5)
    station = processor_s(seconds, hosts)
    fed, lines = with_feed(made, seconds, hosts)
    told = [instrument.statistics for instrument in made]
    for instrument in made:
        instrument.stop()
    for host in hosts:
        host.close()
    share = station / seconds
    verdict = "meets" if share <= LOAD_GOAL else "MISSES"
    print(
        f"two devices at {told[0].rate_hz:.0f} and {told[1].rate_hz:.0f} readings/s: "
        f"{share:.1%} of one core, {station / max(bare, 1e-6):.1f} times bare; "
        f"{verdict} {LOAD_GOAL:.0%}; handling at most "
        f"{max(one.handling_s for one in told) * 1e3:.2f} ms"
    )
    print(
        f"the same with a reading feed and one client: {fed / seconds:.1%} of one "
        f"core, {fed / max(station, 1e-6):.2f} times without; {lines} lines"
    )
    return share > LOAD_GOAL


def damage_rates() -> None:
    """Print how often each kind of damage reads as another value."""
    print(f"{'read as another value':28} {'  '.join(damage.KINDS)}")
    worst = dict.fromkeys(damage.KINDS, 0.0)
    for profile in damage.profiles():
        shares = []
        for kind in damage.KINDS:
            counts = damage.rates(profile, kind)
            shares.append(counts["wrong"] / counts.total())
            worst[kind] = max(worst[kind], shares[-1])
        checked = "checked" if profile.id in damage.CHECKED else ""
        print(f"{profile.id:28} " + "  ".join(f"{s:6.1%}" for s in shares) + f"  {checked}")
    assert all(math.isfinite(share) for share in worst.values())


def main(seconds: float) -> int:
    """Print all; gives 1 when a goal is missed."""
    missed = [parsing(profile) for profile in damage.profiles()]
    missed.append(load(seconds))
    damage_rates()
    return int(any(missed))


if __name__ == "__main__":
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else 5.0))
