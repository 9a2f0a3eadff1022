"""A scanner that types at a window: four milliseconds a character, however busy the machine is."""

import itertools

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.ui.shell.window import Window

GAP_S = 0.004


def scan(window: Window, text: str, *, gap_s: float = GAP_S, end: bool = True) -> None:
    """Type as a scanner does, at the window as the system knows it; the focus decides where to."""
    steps, scans = itertools.count(1), window.scans
    usual_at, usual_ms = scans.at_s, scans.timer.interval()

    def at_s(_: QKeyEvent) -> float:
        return 1e6 + next(steps) * gap_s

    scans.at_s = at_s
    # Time goes by the characters here, not by the wall.
    scans.timer.setInterval(10_000)
    handle = window.windowHandle()
    for character in text:
        QTest.keyClick(handle, character)
    if end:
        QTest.keyClick(handle, Qt.Key.Key_Return)
    scans.at_s = usual_at
    scans.timer.setInterval(usual_ms)
    QApplication.processEvents()
