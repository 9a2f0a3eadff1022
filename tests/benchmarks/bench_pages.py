"""How long a page change, a record and another theme take, in the window of a bench with a past.

    python -m tests.benchmarks.bench_pages [units] [rounds]

The time is the process' own, all threads together (CPU time, which a busy machine hardly
lengthens), from the call until nothing is left to paint and no answer is awaited. The first look at
a page makes it, and is counted by itself; the rest are in turns.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PySide6.QtWidgets import QApplication

from benchstation.bench.assembly import bench_from
from benchstation.clock import running_clock
from benchstation.demo import shop as demo
from benchstation.demo.history import make_history
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from benchstation.ui.shell.page_names import PAGES
from benchstation.ui.shell.window import Window

PAGE_MS, RECORD_MS, THEME_MS = 100.0, 150.0, 100.0
SIZE = (1280, 800)


def until(app: QApplication, done: Callable[[], bool]) -> None:
    """Run the window until this is so and nothing is left to paint."""
    end = time.monotonic() + 20.0
    while not done():
        app.processEvents()
        time.sleep(0.0005)
        if time.monotonic() > end:
            raise TimeoutError("no answer")
    app.processEvents()
    app.processEvents()


def took_ms(app: QApplication, do: Callable[[], object], done: Callable[[], bool]) -> float:
    """Return the CPU time of doing it, in ms."""
    until(app, done)
    start = time.process_time()
    do()
    until(app, done)
    return (time.process_time() - start) * 1e3


def say(what: str, times: list[float], goal: float) -> None:
    """Print median, 95th percentile and worst."""
    half, high = np.percentile(times, [50, 95])
    print(f"{what:34} p50 {half:6.1f}  p95 {high:6.1f}  worst {max(times):6.1f} ms of {goal:.0f}")


def measure(app: QApplication, window: Window, rounds: int) -> None:
    """Go through the pages, open records, change the theme."""
    bridge = window.bridge

    def quiet() -> bool:
        return not bridge._waiting

    names = [name for name, _, _ in PAGES]
    for name in names:
        first = took_ms(app, lambda name=name: window.switch(name), quiet)
        print(f"first look at {name:20} {first:6.1f} ms")
    times: dict[str, list[float]] = {name: [] for name in names}
    for _ in range(rounds):
        for name in names:
            times[name].append(took_ms(app, lambda name=name: window.switch(name), quiet))
    for name in names:
        say(f"page {name}", times[name], PAGE_MS)
    say("page change", [one for each in times.values() for one in each], PAGE_MS)
    window.switch("records")
    until(app, quiet)
    page = window.made["records"]
    keys = [row.unit_id for row in page.list.rows.rows][: 2 * rounds]
    opened = [took_ms(app, lambda k=k: page._open(k), quiet) for k in keys]
    print(f"first record opened {opened[0]:23.1f} ms")
    say("record opened", opened[1:], RECORD_MS)
    for name in ("bench", "records", "specifications"):
        window.switch(name)
        until(app, quiet)
        theme = [took_ms(app, lambda: window.switch("theme"), quiet) for _ in range(rounds)]
        say(f"theme, at {name}", theme, THEME_MS)


def main(units: int = 20, rounds: int = 10) -> None:
    """Make a past and a bench, and measure its window."""
    app = QApplication([])
    app.setStyle("Fusion")
    with (
        tempfile.TemporaryDirectory() as folder,
        open_store(Path(folder) / "rebuilds.sqlite", demo.BENCH) as store,
    ):
        make_history(store, datetime.now(UTC).date(), units)
        live = bench_from(store, demo.demo_shop(store), running_clock(), lambda: demo.AIR)
        station = Station(live, Records(store))
        station.start()
        window = Window(station)
        window.resize(*SIZE)
        window.show()
        window.start()
        window.get_ready()
        try:
            measure(app, window, rounds)
        finally:
            window.close()
            station.close()


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
