"""How long until the window can be used, against a bare window with an empty plot.

Each start is a fresh process; the two kinds alternate, so that a busy machine is unfair to neither.
The clock runs from before the first import to the first frame that is painted with readings in it;
for the station also until the plot library, which comes after that frame, is loaded.

Run from the project's folder: python -m tests.benchmarks.bench_window [ROUNDS]
"""

import os
import statistics
import subprocess
import sys

GOAL = 1.6
BARE = """
import time
start = time.perf_counter()
from PySide6.QtWidgets import QApplication, QMainWindow
import pyqtgraph
app = QApplication([])
window = QMainWindow()
window.setCentralWidget(pyqtgraph.PlotWidget())
window.resize(1280, 800)
window.show()
window.grab()
app.processEvents()
print(time.perf_counter() - start)
"""
STATION = """
import time
start = time.perf_counter()
from PySide6.QtWidgets import QApplication
from benchstation.ui.shell.window import Window
app = QApplication([])
app.setStyle("Fusion")
from tests.ui.fake_moments import {moment}
from tests.ui.fake_station import FakeStation
window = Window(FakeStation({moment}()))
window.resize(1280, 800)
window.show()
window.start()
window.grab()
app.processEvents()
usable = time.perf_counter() - start
window.get_ready()
print(usable, time.perf_counter() - start)
window.close()
"""
KINDS = {
    "bare window, empty plot": BARE,
    "station at sign-in": STATION.format(moment="sign_in"),
    "station in a pour": STATION.format(moment="pour"),
}


def start_once(program: str) -> list[float]:
    """Start one process; gives its times in seconds."""
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        env={"QT_QPA_PLATFORM": "offscreen", **os.environ},
    )
    return [float(part) for part in done.stdout.split()]


def main(rounds: int = 7) -> None:
    times: dict[str, list[list[float]]] = {name: [] for name in KINDS}
    for program in KINDS.values():
        start_once(program)
    for _ in range(rounds):
        for name, program in KINDS.items():
            times[name].append(start_once(program))
    bare = statistics.median(run[0] for run in times["bare window, empty plot"])
    print(f"{'':28}{'usable':>10}{'ratio':>8}{'all loaded':>12}{'ratio':>8}")
    for name, runs in times.items():
        medians = [statistics.median(column) for column in zip(*runs, strict=True)]
        shown = "".join(
            f"{value * 1e3:{width}.0f} ms{value / bare:8.2f}"
            for value, width in zip(medians, (7, 9), strict=False)
        )
        print(f"{name:28}{shown}")
    print(f"median of {rounds}; goal for usable: at most {GOAL}")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
