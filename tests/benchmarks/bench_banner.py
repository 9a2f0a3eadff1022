"""How long from a byte on the line to the painted alarm banner, under what a station does beside.

    python -m tests.benchmarks.bench_banner [alarms for each load] [load ...]

Another process writes a gauge's frames at 10 Hz to a pseudo-terminal and goes above the limit again
and again; the window runs as the program runs it. Each alarm is acknowledged once it is painted.
The machine's load stands beside the figures: it is shared.
"""

import contextlib
import itertools
import multiprocessing
import os
import statistics
import sys
import tempfile
import threading
import time
import tty
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from multiprocessing.connection import Connection
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from benchstation.bench.assembly import bench_from
from benchstation.clock import running_clock
from benchstation.crash import SWITCH_INTERVAL_S
from benchstation.demo import shop as demo
from benchstation.demo.history import make_history
from benchstation.demo.play import FillableDisk
from benchstation.domain.guard import AlarmKind
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from benchstation.ui.shell.run import MemoryKeeper
from benchstation.ui.shell.window import Window
from benchstation.ui.widgets.readout.alarm_banner import Banner

QUIET_GOAL_MS, BUSY_GOAL_MS = 50.0, 100.0
LOW, HIGH = b"+010.000 bar\r\n", b"+036.000 bar\r\n"
FRAME_S, FRAMES_LOW, FRAMES_HIGH = 0.1, 13, 2
UNSEEN_S = FRAME_S * (FRAMES_LOW + FRAMES_HIGH)
BLOCKED_S = 5.0
PAST_UNITS = 60
SIZE = (1600, 900)


def write_frames(parent: Connection) -> None:
    """Serve a gauge on a pseudo-terminal; for each number received go above the limit so often.

    Each time the moments of the first frames above are handed back.
    """
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    parent.send(os.ttyname(slave))
    while not parent.poll():
        os.write(master, LOW)
        time.sleep(FRAME_S)
    while alarms := parent.recv():
        written = []
        for count in range(alarms):
            # Not in step with anything of the station's.
            begin = time.perf_counter() + 0.01 * (count * 7 % 10)
            for number in range(FRAMES_LOW + FRAMES_HIGH):
                time.sleep(max(0.0, begin + number * FRAME_S - time.perf_counter()))
                if number == FRAMES_LOW:
                    written.append(time.perf_counter())
                os.write(master, HIGH if number >= FRAMES_LOW else LOW)
        parent.send(written)
        while not parent.poll():
            os.write(master, LOW)
            time.sleep(FRAME_S)


class SlowDisk(FillableDisk):
    """Records on a disk that takes its time."""

    takes_s = 0.0

    def append(self, *args: object, **given: object) -> object:
        time.sleep(self.takes_s)
        return super().append(*args, **given)


@dataclass
class Under:
    """What a load may use."""

    station: Station
    window: Window
    disk: SlowDisk
    folder: Path


Load = Callable[[Under], Iterator[None]]


def quiet(under: Under) -> Iterator[None]:
    yield


def busy_thread(under: Under) -> Iterator[None]:
    """Have a thread of the same program compute in Python without a pause."""
    yield from _repeated(lambda: sum(n * n for n in range(10_000)))


def writing_pdf(under: Under) -> Iterator[None]:
    """Write one record's PDF after the other."""
    rows = under.station.find_records("").result()

    def write() -> None:
        for row in rows:
            under.station.export_record(row.unit_id, under.folder).result()

    yield from _repeated(write)


def verifying(under: Under) -> Iterator[None]:
    """Verify the journal over and over."""
    yield from _repeated(lambda: under.station.verify_journal().result())


def paging(under: Under) -> Iterator[None]:
    """Page through the records in the window to the oldest, and begin anew; open one each time."""
    window = under.window
    window.switch("records")
    records = window.made["records"]
    timer, turn = QTimer(window), itertools.count()

    def page() -> None:
        if next(turn) % 8 == 0:
            records.search_now()
        else:
            records.list.scrollToBottom()
            records._older()
        records.list.setCurrentIndex(records.list.rows.index(0, 0))
        records.open_current()

    timer.timeout.connect(page)
    timer.start(100)
    yield
    timer.stop()
    window.switch("bench")


def blocked_journal(under: Under) -> Iterator[None]:
    """Have each write take five seconds."""
    under.disk.takes_s = BLOCKED_S
    yield
    under.disk.takes_s = 0.0


def _repeated(work: Callable[[], object]) -> Iterator[None]:
    stop = threading.Event()

    def run() -> None:
        while not stop.is_set():
            with contextlib.suppress(Exception):
                work()

    thread = threading.Thread(target=run)
    thread.start()
    yield
    stop.set()
    thread.join()


LOADS: dict[str, tuple[Load, float]] = {
    "quiet": (quiet, QUIET_GOAL_MS),
    "busy-thread": (busy_thread, BUSY_GOAL_MS),
    "pdf": (writing_pdf, BUSY_GOAL_MS),
    "verify": (verifying, BUSY_GOAL_MS),
    "records": (paging, BUSY_GOAL_MS),
    "journal-blocked": (blocked_journal, BUSY_GOAL_MS),
}


class Painted:
    """Notes when an alarm that is to be acknowledged is painted, and acknowledges it."""

    def __init__(self) -> None:
        self.at: dict[str, float] = {}
        self._usual = Banner.paintEvent
        self._due: list[str] = []
        Banner.paintEvent = lambda banner, event: self._paint(banner, event)

    def _paint(self, banner: Banner, event: object) -> None:
        self._usual(banner, event)
        shown = banner.shown
        limit = shown is not None and AlarmKind.HIGH_LIMIT.value in shown.headline.lower()
        if limit and shown.active and shown.id not in self.at:
            self.at[shown.id] = time.perf_counter()
            self._due.append(shown.id)

    def acknowledge(self, watch: object) -> None:
        """Acknowledge what has been painted; the guard itself waits for no journal."""
        while self._due:
            watch.acknowledge(demo.TECHNICIANS[0], "measured", self._due.pop(0))

    def close(self) -> None:
        Banner.paintEvent = self._usual


@contextlib.contextmanager
def window_on(url: str, folder: Path, app: QApplication) -> Iterator[Under]:
    """Run a station that reads this line, and its window, as the program does."""
    with open_store(folder / "rebuilds.sqlite", demo.BENCH) as store:
        make_history(store, date.today(), PAST_UNITS)
        disk, wakes = SlowDisk(store), []
        live = bench_from(
            disk.as_store(),
            demo.demo_shop(store),
            running_clock(),
            lambda: demo.AIR,
            on_change=lambda: [wake() for wake in wakes],
        )
        station = Station(live, Records(store))
        wakes.append(station.wake)
        live.session.gauge.instrument.connect(url)
        live.session.watch.arm()
        station.start()
        window = Window(station)
        window.resize(*SIZE)
        window.show()
        window.start()
        window.get_ready()
        app.processEvents()
        keeper = MemoryKeeper(window.is_quiet)
        yield Under(station, window, disk, folder)
        keeper.close()
        window.close()
        station.close()
        live.session.gauge.instrument.stop()


def measure(
    app: QApplication, under: Under, painted: Painted, line: Connection, load: Load, alarms: int
) -> list[float]:
    """Return in ms how long each alarm took from its byte to the painted banner."""
    running, watch = load(under), under.station.live.session.watch
    next(running)
    acknowledging, ends = QTimer(under.window), QTimer(under.window)
    acknowledging.timeout.connect(lambda: painted.acknowledge(watch))
    acknowledging.start(300)
    ends.timeout.connect(lambda: line.poll() and app.exit(0))
    ends.start(100)
    line.send(alarms)
    app.exec()
    written = line.recv()
    for _ in running:
        pass
    QTimer.singleShot(2000, app, lambda: app.exit(0))
    app.exec()
    acknowledging.stop()
    ends.stop()
    return delays(written, sorted(painted.at.values()))


def delays(written: list[float], painted: list[float]) -> list[float]:
    """Return in ms, for each byte, the time to the banner that was painted next."""
    found = []
    for begin, end in itertools.zip_longest(written, written[1:]):
        seen = [at for at in painted if begin <= at and (end is None or at < end)]
        # Not painted before the next one: it took at least so long.
        found.append(((seen[0] - begin) if seen else UNSEEN_S) * 1e3)
    return found


def main(alarms: int, names: list[str]) -> int:
    """Print the figures of each load; gives 1 where a goal is missed."""
    multiprocessing.set_start_method("spawn")
    sys.setswitchinterval(SWITCH_INTERVAL_S)
    app = QApplication([])
    app.setStyle("Fusion")
    print(f"Qt platform: {app.platformName()}, {os.cpu_count()} cores")
    ours, theirs = multiprocessing.Pipe()
    writer = multiprocessing.Process(target=write_frames, args=(theirs,), daemon=True)
    writer.start()
    painted, missed = Painted(), False
    url = ours.recv()
    with tempfile.TemporaryDirectory() as folder, window_on(url, Path(folder), app) as under:
        for name in ("warming up", *names):
            load, goal = LOADS.get(name, LOADS["quiet"])
            found = measure(app, under, painted, ours, load, alarms if name in LOADS else 3)
            p99 = statistics.quantiles(found, n=100, method="inclusive")[98]
            missed = missed or (name in LOADS and p99 > goal)
            print(
                f"{name:16} {len(found)} alarms: median {statistics.median(found):.1f} ms, p99 "
                f"{p99:.1f} ms, worst {max(found):.1f} ms; "
                f"{'meets' if p99 <= goal else 'MISSES'} {goal:.0f} ms "
                f"(machine's load {os.getloadavg()[0]:.1f})",
                flush=True,
            )
        ours.send(0)
    writer.join()
    painted.close()
    return 1 if missed else 0


if __name__ == "__main__":
    chosen = sys.argv[2:] or list(LOADS)
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200, chosen))
