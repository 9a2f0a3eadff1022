"""Waiting for what the window brings about, while its events are served."""

from collections.abc import Callable

from PySide6.QtCore import QElapsedTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

PATIENCE_MS = 5000
LOOK_MS = 5
ROUNDS = 6
"""A layout that is put off may put off another; none goes deeper than the widgets do."""


def settled() -> None:
    """Have Qt lay out and draw all that it has put off."""
    for _ in range(ROUNDS):
        QApplication.sendPostedEvents()
        QApplication.processEvents()


def comes_and_stays(holds: Callable[[], object], for_ms: int, why: str = "") -> None:
    """Wait until something holds, then fail when it ends within a time."""
    passed = QElapsedTimer()
    passed.start()
    while not holds():
        assert passed.elapsed() < PATIENCE_MS, why or "it did not come about in time"
        QTest.qWait(LOOK_MS)
    passed.restart()
    while passed.elapsed() < for_ms:
        QTest.qWait(LOOK_MS)
        assert holds(), why or "it did not stay so"
