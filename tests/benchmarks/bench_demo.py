"""How long the demonstration takes to its first frame and until somebody is signed in.

    python -m tests.benchmarks.bench_demo [rounds] [units of the past]

On a fresh machine (no past is kept: it is made beside the window) and with a past that is kept.
Bytecode is there from an uncounted start on. Both times count from the start of the process: on the
wall, and what the process itself computed (CPU time), which a busy machine hardly lengthens.
"""

import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

FRAME_S, USABLE_S = 2.0, 5.0
PROGRAM = """
import sys, time
from datetime import date
started = time.time() - time.clock_gettime(time.CLOCK_PROCESS_CPUTIME_ID)
from benchstation import app
from benchstation.demo import past
from PySide6.QtCore import QTimer

def told():
    print(time.time() - started, time.process_time(), flush=True)

class Never(past.PastInMaking):
    def start(self):
        pass  # another process: it takes its own core, and nothing of this one

past.PastInMaking = Never

def run(port, **given):
    usual = run_window
    def first():
        told()
        port.act("sign_in", {"person": "kofler", "pin": "246810"}).result(10)
        told()
        QTimer.singleShot(0, close)
    def close():
        from PySide6.QtWidgets import QApplication
        QApplication.instance().quit()
    from benchstation.ui.shell.window import Window
    shown = Window.paintEvent
    done = []
    def paint(window, event):
        shown(window, event)
        if not done:
            done.append(True)
            QTimer.singleShot(0, first)
    Window.paintEvent = paint
    return usual(port, **given)

run_window, app.run_window = app.run_window, run
app.run_demo(units=UNITS)
"""


def start_once(cache: Path, bytecode: Path, units: int) -> list[float]:
    """Start the demonstration once; return wall and CPU of the frame, then of the sign-in."""
    usual = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM.replace("UNITS", str(units))],
        capture_output=True,
        text=True,
        check=True,
        env={
            "QT_QPA_PLATFORM": "offscreen",
            **usual,
            "PYTHONPYCACHEPREFIX": str(bytecode),
            "XDG_CACHE_HOME": str(cache),
        },
    )
    return [float(part) for part in done.stdout.split()[:4]]


def main(rounds: int = 5, units: int = 20) -> None:
    with tempfile.TemporaryDirectory() as folder:
        bytecode, fresh, kept = (Path(folder) / name for name in ("bytecode", "fresh", "kept"))
        start_once(fresh, bytecode, units)
        make = [sys.executable, "-m", "benchstation", "demo", "--past", str(units)]
        env = {**os.environ, "XDG_CACHE_HOME": str(kept)}
        subprocess.run(make, check=True, capture_output=True, env=env)
        for words, cache in (("on a fresh machine", fresh), ("with a past that is kept", kept)):
            runs = [start_once(cache, bytecode, units) for _ in range(rounds)]
            frame_wall, frame, usable_wall, usable = map(statistics.median, zip(*runs, strict=True))
            print(
                f"{words:26} first frame {frame_wall:.2f} s ({frame:.2f} s CPU) of {FRAME_S:.0f}, "
                f"signed in {usable_wall:.2f} s ({usable:.2f} s CPU) of {USABLE_S:.0f}"
            )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
