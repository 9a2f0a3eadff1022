"""What a frame of the window costs, and how long from a byte on the line to the painted number.

    python -m tests.benchmarks.bench_screen [seconds]

Frames: new readings and an hour of trace at 100 Hz in every one of them, against a bare plot of as
many points; both take turns. Byte to paint: a station with its threads reads a pseudo-terminal to
which another process writes a gauge's frames at 100 Hz; counted for each frame until a number at
least as new has been painted.
"""

import contextlib
import gc
import multiprocessing
import os
import statistics
import sys
import tempfile
import time
import tty
from collections.abc import Iterator
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path

from benchstation.bench.tare_loss import recover

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from benchstation.bench.assembly import bench_from
from benchstation.clock import running_clock
from benchstation.demo import shop as demo
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from benchstation.ui.shell.window import Window
from benchstation.ui.widgets.readout.instrument_bar import Reading
from tests.stepped_bench import START
from tests.ui.fake_moments import pour
from tests.ui.fake_station import FakeStation

RATE_HZ, TRACE_S, FRAME_MS, GOAL_MS = 100.0, 3600.0, 1000 / 60, 50.0
SIZE, BARE_EVERY = (1600, 900), 10


def moments() -> Iterator[tuple[object, np.ndarray, np.ndarray]]:
    """Return moment after moment: number, lane and the hour of trace are new in each."""
    view, count = pour(), 0
    noise = np.random.default_rng(1).normal(0.0, 0.05, round(TRACE_S * RATE_HZ) + 200_000)
    size = round(TRACE_S * RATE_HZ)
    seconds = np.arange(size) / RATE_HZ - TRACE_S
    trace = view.task.trace
    while True:
        values = 100.0 + noise[count % 200_000 :][:size]
        big = replace(view.task.big, number=f"{30 + count % 50 / 10:.1f}")
        lanes = tuple(replace(lane, value=187 + count % 50 / 10) for lane in view.task.lanes)
        strip = tuple(replace(r, number=f"{100 + count % 500 / 10:.1f}") for r in view.strip)
        shown = replace(trace, seconds=seconds, values=values, span_s=TRACE_S)
        task = replace(view.task, big=big, lanes=lanes, trace=shown)
        yield replace(view, task=task, strip=strip), seconds, values
        count += 2


def frames(app: QApplication, seconds: float) -> None:
    """Time frames of the window and of a bare plot in turns."""
    station = FakeStation(pour())
    window = Window(station)
    window.resize(*SIZE)
    window.show()
    plot = pg.PlotWidget()
    curve = plot.plot()
    plot.resize(*SIZE)
    plot.show()
    app.processEvents()
    ours: list[float] = []
    bare: list[float] = []
    end = time.perf_counter() + seconds
    for view, at, values in moments():
        station.current = view
        start = time.perf_counter()
        window.bridge.refresh()
        app.processEvents()
        middle = time.perf_counter()
        ours.append((middle - start) * 1000)
        if len(ours) % BARE_EVERY == 0:
            curve.setData(at, values)
            app.processEvents()
            bare.append((time.perf_counter() - middle) * 1000)
        if middle > end:
            break
    window.close()
    plot.close()
    say("frame of the window", ours[5:], FRAME_MS)
    say("frame of a bare plot of as many points", bare, FRAME_MS)
    print(f"ratio of the medians: {statistics.median(ours) / statistics.median(bare):.2f}")


def write_frames(parent: Connection, seconds: float) -> None:
    """Serve a gauge on a pseudo-terminal; hand back when each number was written."""
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    parent.send(os.ttyname(slave))
    parent.recv()
    written = []
    begin = time.perf_counter()
    for count in range(int(seconds * RATE_HZ)):
        time.sleep(max(0.0, begin + count / RATE_HZ - time.perf_counter()))
        written.append(time.perf_counter())
        os.write(master, f"+{count / 100:07.2f} bar\r\n".encode())
    parent.send(written)
    parent.recv()


def byte_to_paint(app: QApplication, seconds: float) -> None:
    """Time numbers from the line to the screen."""
    ours, theirs = multiprocessing.Pipe()
    writer = multiprocessing.Process(target=write_frames, args=(theirs, seconds), daemon=True)
    writer.start()
    url = ours.recv()
    painted: list[tuple[float, float]] = []
    usual = Reading.paintEvent

    def paint(reading: Reading, event: object) -> None:
        usual(reading, event)
        shown = reading.shown
        if shown is not None and shown.unit.startswith("bar"):
            with contextlib.suppress(ValueError):
                painted.append((time.perf_counter(), float(shown.number)))

    Reading.paintEvent = paint
    with (
        tempfile.TemporaryDirectory() as folder,
        open_store(Path(folder) / "rebuilds.sqlite", demo.BENCH) as store,
    ):
        demo.found(store, START)
        live = bench_from(store, demo.demo_shop(store), running_clock(), lambda: demo.AIR)
        recover(live.session)
        station = Station(live, Records(store))
        live.session.gauge.instrument.connect(url)
        live.session.watch.arm()
        station.start()
        window = Window(station)
        window.resize(*SIZE)
        window.show()
        window.start()
        QTimer.singleShot(1000, app, lambda: ours.send("go"))
        QTimer.singleShot(round(seconds * 1000) + 1500, app, lambda: app.exit(0))
        app.exec()
        written = ours.recv()
        ours.send("end")
        window.close()
        station.close()
        live.session.gauge.instrument.stop()
    writer.join()
    Reading.paintEvent = usual
    say("byte to painted number", delays(written, painted), GOAL_MS)


def delays(written: list[float], painted: list[tuple[float, float]]) -> list[float]:
    """Return in ms, for each number written, how long until one at least as new was painted."""
    found, place = [], 0
    for count, start in enumerate(written):
        while place < len(painted) and (
            painted[place][0] < start or painted[place][1] < count / 100 - 1e-6
        ):
            place += 1
        if place == len(painted):
            break
        found.append((painted[place][0] - start) * 1000)
    return found


def say(what: str, times_ms: list[float], goal_ms: float) -> None:
    """Print median and 99th percentile, with their share of the goal."""
    half, high = np.percentile(times_ms, [50, 99])
    print(
        f"{what}: p50 {half:.1f} ms, p99 {high:.1f} ms of {goal_ms:.1f} ms "
        f"({half / goal_ms:.0%}, {high / goal_ms:.0%}), {len(times_ms)} counted"
    )


if __name__ == "__main__":
    gc.disable()  # as the window does while something goes on
    length = float(sys.argv[1]) if len(sys.argv) > 1 else 10.0
    application = QApplication([])
    application.setStyle("Fusion")
    print(f"Qt platform: {application.platformName()}")
    frames(application, length)
    byte_to_paint(application, length)
