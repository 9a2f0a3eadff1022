"""What a program that runs for long must not have more of: threads, files, widgets, timers, memory.

Each is counted after garbage was collected, what Qt deletes later is deleted, and free memory is
given back.
"""

import gc
import os
import threading
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from sys import intern
from weakref import ref

from PySide6.QtCore import QCoreApplication, QEvent, QMetaMethod, QObject, QTimer
from PySide6.QtWidgets import QApplication, QWidget

from benchstation.ui.shell.run import heap_trimmer

SIGNAL = "2"
"""What Qt's macro of this name puts before a signature."""
TIMERS = "timers at work"
NOISE = 30
"""Objects of one Python type that come and go by themselves: answers under way, kept readings."""


@dataclass(frozen=True, slots=True)
class Counted:
    """How many there are of each at one moment."""

    threads: Counter[str]
    files: Counter[str]
    qt: Counter[str]
    """Every QObject under the window, by its class; timers and widgets are among them."""
    connections: int
    python: Counter[str]
    rss_kb: int

    @property
    def objects(self) -> int:
        """Return how many Python objects the collector follows."""
        return self.python.total()

    @property
    def timers(self) -> int:
        """Return how many timers run."""
        return self.qt[TIMERS]

    @property
    def words(self) -> str:
        """Return the counts as a line to print."""
        return (
            f"{self.rss_kb / 1024:.0f} MB, {self.objects} Python objects, {self.qt.total()} of Qt, "
            f"{self.connections} connections, {self.threads.total()} threads, "
            f"{self.files.total()} files"
        )

    def more_than(self, before: "Counted") -> dict[str, object]:
        """Return what there is more of than before; empty for nothing. Memory is judged apart."""
        found = {
            "threads": dict(self.threads - before.threads),
            "files": dict(self.files - before.files),
            "qt": dict(self.qt - before.qt),
            "connections": max(0, self.connections - before.connections),
        }
        return {what: more for what, more in found.items() if more}

    def grown_types(self, before: "Counted", most: int = NOISE) -> dict[str, int]:
        """Return the Python types of which there are more by more than so many."""
        return {name: n for name, n in (self.python - before.python).items() if n > most}


def counted(window: QWidget | None = None) -> Counted:
    """Count now."""
    for _ in range(3):
        QApplication.processEvents()
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        gc.collect()
    heap_trimmer()()
    under = [] if window is None else [window, *window.findChildren(QObject)]
    return Counted(
        Counter(thread.name for thread in threading.enumerate()),
        _files(),
        _qt(under),
        sum(_connections(one) for one in under),
        _python(),
        resident_kb(),
    )


def _python() -> Counter[str]:
    """Return the objects by their type; references to what is gone are cleared by and by."""
    alive = (one for one in gc.get_objects() if type(one) is not ref or one() is not None)
    # One text for all counts: what is kept of them must not pass for what the program keeps.
    return Counter(intern(f"{type(one).__module__}.{type(one).__qualname__}") for one in alive)


def _qt(under: list[QObject]) -> Counter[str]:
    found = Counter(type(one).__name__ for one in under)
    found["widgets of the program"] = len(QApplication.allWidgets()) if under else 0
    found[TIMERS] = sum(isinstance(one, QTimer) and one.isActive() for one in under)
    return found


def _connections(one: QObject) -> int:
    meta = one.metaObject()
    methods = (meta.method(n) for n in range(meta.methodCount()))
    signals = (m for m in methods if m.methodType() is QMetaMethod.MethodType.Signal)
    return sum(one.receivers(SIGNAL + m.methodSignature().data().decode()) for m in signals)


def _files() -> Counter[str]:
    """Return what is open; a number tells nothing of a pipe or a socket but that it is one."""
    found: Counter[str] = Counter()
    for one in Path("/proc/self/fd").iterdir() if Path("/proc/self/fd").exists() else ():
        try:
            found[os.readlink(one).partition(":[")[0]] += 1
        except OSError:
            continue
    return found


def resident_kb() -> int:
    """Return the memory that is in use; 0 where the system does not say."""
    try:
        text = Path("/proc/self/status").read_text("ascii")
    except OSError:
        return 0
    return next(int(line.split()[1]) for line in text.splitlines() if line.startswith("VmRSS"))
