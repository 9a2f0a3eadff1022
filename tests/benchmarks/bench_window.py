"""How long until the window can be used, against a bare window with an empty plot.

Each start is a fresh process; the two kinds alternate, so that a busy machine is unfair to neither.
The time is the process' own (CPU time, which a busy machine hardly lengthens), from before the
first import to the first frame that is painted with readings in it; for the station also until the
plot library, which comes after that frame, is loaded. Bytecode is kept in a folder of the run's own
and is there from the first, uncounted start on.

Run from the project's folder: python -m tests.benchmarks.bench_window [ROUNDS]
"""

import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

GOALS = {"station at sign-in": 1.3, "station in a pour": 1.6}
BARE = """
import time
start = time.process_time()
from PySide6.QtWidgets import QApplication, QMainWindow
import pyqtgraph
app = QApplication([])
window = QMainWindow()
window.setCentralWidget(pyqtgraph.PlotWidget())
window.resize(1280, 800)
window.show()
window.grab()
app.processEvents()
print(time.process_time() - start)
"""
STATION = """
import time
start = time.process_time()
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
usable = time.process_time() - start
window.get_ready()
print(usable, time.process_time() - start)
window.close()
"""
KINDS = {
    "bare window, empty plot": BARE,
    "station at sign-in": STATION.format(moment="sign_in"),
    "station in a pour": STATION.format(moment="pour"),
}


def start_once(program: str, bytecode: Path) -> list[float]:
    """Start one process; gives its times in seconds."""
    usual = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        env={"QT_QPA_PLATFORM": "offscreen", **usual, "PYTHONPYCACHEPREFIX": str(bytecode)},
    )
    return [float(part) for part in done.stdout.split()]


def main(rounds: int = 7) -> None:
    times: dict[str, list[list[float]]] = {name: [] for name in KINDS}
    with tempfile.TemporaryDirectory() as folder:
        for program in KINDS.values():
            start_once(program, Path(folder))
        for _ in range(rounds):
            for name, program in KINDS.items():
                times[name].append(start_once(program, Path(folder)))
    bare = statistics.median(run[0] for run in times["bare window, empty plot"])
    print(f"{'':28}{'usable':>10}{'ratio':>8}{'all loaded':>12}{'ratio':>8}")
    for name, runs in times.items():
        medians = [statistics.median(column) for column in zip(*runs, strict=True)]
        shown = "".join(
            f"{value * 1e3:{width}.0f} ms{value / bare:8.2f}"
            for value, width in zip(medians, (7, 9), strict=False)
        )
        goal = f"   goal for usable: at most {GOALS[name]}" if name in GOALS else ""
        print(f"{name:28}{shown}{goal}")
    print(f"median of {rounds}, CPU time")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
