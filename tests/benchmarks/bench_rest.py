"""What the station costs when nothing happens, and in a charge: shares of a core, window included.

    python -m tests.benchmarks.bench_rest [seconds] [--profile]

Another process writes the frames of a scale and a gauge at 10 Hz to pseudo-terminals; the window
is drawn off the screen. At rest the readings flutter by a digit; in a charge the gauge rises and
falls. A bare Qt loop with one label that is set ten times a second stands beside both.
"""

import argparse
import cProfile
import math
import multiprocessing
import os
import pstats
import random
import tempfile
import threading
import time
import tty
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from pathlib import Path

from benchstation.bench.tare_loss import recover

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QLabel

from benchstation.bench.assembly import bench_from
from benchstation.clock import running_clock
from benchstation.crash import prepare_process
from benchstation.demo import shop as demo
from benchstation.domain.specification import StepKind
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from benchstation.ui.shell.window import Window
from tests.stepped_bench import make_bench

RATE_HZ, SIZE = 10.0, (1600, 900)
FILL_S, COOL_S, CHARGE_BAR = 5.0, 20.0, 15.0
REST_GOAL, CHARGE_GOAL = 0.04, 0.08


def bar_at(at: float, charge: bool) -> float:
    """Return the gauge's pressure: level, or filled in 5 s and cooling after."""
    if not charge:
        return 0.0
    if at < FILL_S:
        return 1.1 * CHARGE_BAR * at / FILL_S
    return CHARGE_BAR * (1 + 0.1 * math.exp(-(at - FILL_S) / COOL_S))


def write_frames(parent: Connection, charge: bool) -> None:
    """Serve both devices until the other side ends."""
    masters = []
    for _ in range(2):
        master, slave = os.openpty()
        tty.setraw(master)
        tty.setraw(slave)
        masters.append(master)
        parent.send(os.ttyname(slave))
    parent.recv()
    begin, chance, count = time.perf_counter(), random.Random(1), 0
    while not parent.poll():
        count += 1
        time.sleep(max(0.0, begin + count / RATE_HZ - time.perf_counter()))
        grams = 350.0 + chance.choice((0.0, 0.0, 0.1))
        os.write(masters[0], b"ST,GS,%+09.1f  g\r\n" % grams)
        bar = bar_at(count / RATE_HZ, charge) + chance.choice((0.0, 0.0, 0.01))
        os.write(masters[1], b"%+08.2f bar\r\n" % bar)


@contextmanager
def station_at(folder: Path, kind: StepKind | None) -> Iterator[tuple[Station, Connection]]:
    """Run a station, with a unit at a step of this kind or none."""
    bench = make_bench(folder)
    bench.sign_in()
    if kind is not None:
        bench.work_to(kind)
    bench.store.close()
    ours, theirs = multiprocessing.get_context("spawn").Pipe()
    writer = multiprocessing.get_context("spawn").Process(
        target=write_frames, args=(theirs, kind is StepKind.CHARGE), daemon=True
    )
    writer.start()
    scale_url, gauge_url = ours.recv(), ours.recv()
    with open_store(folder / "rebuilds.sqlite", demo.BENCH) as store:
        wakers: list[Station] = []
        live = bench_from(
            store,
            demo.demo_shop(store),
            running_clock(),
            lambda: demo.AIR,
            on_change=lambda: [station.wake() for station in wakers] and None,
        )
        recover(live.session)
        station = Station(live, Records(store))
        wakers.append(station)
        live.session.scale.instrument.connect(scale_url)
        live.session.gauge.instrument.connect(gauge_url)
        live.session.watch.arm()
        station.start()
        try:
            fields = {"person": demo.TECHNICIANS[0], "pin": demo.PIN}
            station.act("sign_in", fields).result(5.0)
            yield station, ours
        finally:
            ours.send("end")
            station.close()
            live.session.scale.instrument.stop()
            live.session.gauge.instrument.stop()
    writer.join()


def spin(app: QApplication, seconds: float) -> None:
    """Run Qt's loop for so long."""
    # Not quit, which a window under pressure would refuse.
    QTimer.singleShot(round(seconds * 1000), app, lambda: app.exit(0))
    app.exec()


def share_of_core(app: QApplication, seconds: float) -> float:
    """Return the processor time of this process over its time on the wall."""
    spent, start = time.process_time(), time.perf_counter()
    spin(app, seconds)
    return (time.process_time() - spent) / (time.perf_counter() - start)


def bare(app: QApplication, seconds: float) -> float:
    """Return the share of a window with one label that changes ten times a second."""
    label = QLabel()
    label.resize(*SIZE)
    label.show()
    timer, count = QTimer(), iter(range(1_000_000))
    timer.timeout.connect(lambda: label.setText(f"{next(count)}"))
    timer.start(round(1000 / RATE_HZ))
    share = share_of_core(app, seconds)
    timer.stop()
    label.close()
    return share


def measured(app: QApplication, kind: StepKind | None, seconds: float, profiled: bool) -> float:
    """Return the station's share; with ``profiled`` also print where its threads spent it."""
    with (
        tempfile.TemporaryDirectory() as folder,
        station_at(Path(folder), kind) as (station, line),
    ):
        window = Window(station)
        window.resize(*SIZE)
        window.show()
        window.start()
        line.send("go")
        spin(app, 3.0 if kind is None else FILL_S + 3.0)
        if profiled:
            _profile(app, station, seconds)
        share = share_of_core(app, seconds)
        shown = station.view().task.step_id
        window.close()
    print(f"  at step '{shown}'")
    return share


def _profile(app: QApplication, station: Station, seconds: float) -> None:
    window = cProfile.Profile()
    window.enable()
    spin(app, seconds)
    window.disable()
    print("window's thread")
    pstats.Stats(window).sort_stats("cumulative").print_stats(25)
    bench = cProfile.Profile()
    done = threading.Event()

    def begin() -> str:
        bench.enable()
        return ""

    def end() -> str:
        bench.disable()
        done.set()
        return ""

    station.ask(begin)
    spin(app, seconds)
    station.ask(end)
    done.wait(5.0)
    print("bench's thread")
    pstats.Stats(bench).sort_stats("cumulative").print_stats(45)


def main() -> None:
    """Print the shares."""
    parser = argparse.ArgumentParser()
    parser.add_argument("seconds", nargs="?", type=float, default=10.0)
    parser.add_argument("--profile", action="store_true")
    given = parser.parse_args()
    prepare_process()
    app = QApplication([])
    app.setStyle("Fusion")
    alone = bare(app, given.seconds)
    print(f"bare loop with one label: {alone:.1%} of a core")
    for words, kind, goal in (
        ("at rest, no unit", None, REST_GOAL),
        ("at rest at a step without readings", StepKind.CONFIRM, REST_GOAL),
        ("in a charge", StepKind.CHARGE, CHARGE_GOAL),
    ):
        share = measured(app, kind, given.seconds, given.profile)
        verdict = "meets" if share <= goal else "MISSES"
        times = f"{share / alone:.1f} times bare"
        print(f"{words}: {share:.1%} of a core, {times}  {verdict} {goal:.0%}")


if __name__ == "__main__":
    main()
