"""Scans among the keys that go to no text field, and the signs that somebody is there.

A scanner types faster than a hand, but its first character could be an action's key: so a key that
types something waits a moment, and is handed on when nothing follows it as fast as a scanner would.
"""

import time
from collections.abc import Callable

from PySide6.QtCore import QCoreApplication, QEvent, QObject, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QKeyEvent, QWindow
from PySide6.QtWidgets import QLineEdit, QPlainTextEdit, QWidget

from benchstation.ui.wedge import ENDS, GAP_S, LEAST, Wedge

WAIT_MS = round(GAP_S * 1e3) + 10
PRESSES = (QEvent.Type.KeyPress, QEvent.Type.MouseButtonPress, QEvent.Type.TouchBegin)
SHIFTS = Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier
SILENT = (Qt.Key.Key_Shift, Qt.Key.Key_CapsLock, Qt.Key.Key_AltGr)


def event_s(event: QKeyEvent) -> float:
    """Give when a key was pressed, s: as the system says, since a busy window reads it later."""
    return event.timestamp() / 1e3 or time.monotonic()


def _copy(event: QKeyEvent) -> QKeyEvent:
    # The system's own event ends with its handling; a clone of it would never end.
    key, modifiers = Qt.Key(event.key()), event.modifiers()
    return QKeyEvent(event.type(), key, modifiers, event.text(), event.isAutoRepeat())


class Scans(QObject):
    """Watches what reaches one window of the system, before its widgets see it."""

    scanned = Signal(str)
    stirred = Signal()
    """A key, a click or a scan came."""

    def __init__(self, window: QWidget, *, at_s: Callable[[QKeyEvent], float] = event_s) -> None:
        super().__init__(window)
        self._window, self.at_s = window, at_s
        self._handle: QWindow | None = None
        self._wedge = Wedge()
        self._held: list[QKeyEvent] = []
        self._handing_on = False
        self.timer = QTimer(self)
        self.timer.setSingleShot(True)
        self.timer.setInterval(WAIT_MS)
        self.timer.timeout.connect(self._on_time)
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.timeout.connect(self.hand_on)

    def watch(self) -> None:
        """Begin; the window must be shown."""
        handle = self._window.windowHandle()
        if handle is not None and handle is not self._handle:
            self._handle = handle
            handle.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take note of a press; keep back what may be the beginning of a scan."""
        kind = event.type()
        if self._handing_on:
            return False
        if kind in PRESSES:
            self.stirred.emit()
        if not isinstance(event, QKeyEvent) or self._in_text():
            return False
        if kind == QEvent.Type.KeyPress:
            return self._take(event)
        return kind == QEvent.Type.KeyRelease and self._keep_release(event)

    def _in_text(self) -> bool:
        return isinstance(self._window.focusWidget(), QLineEdit | QPlainTextEdit)

    def _take(self, event: QKeyEvent) -> bool:
        typed = event.text()
        if not typed:
            # Shift and its like change nothing; any other key comes after those that wait.
            if event.key() not in SILENT:
                self.hand_on()
            return False
        scan = self._wedge.feed(typed, self.at_s(event), repeat=event.isAutoRepeat())
        if scan is not None:
            self._stop()
            self._held.clear()
            self.scanned.emit(scan)
            return True
        if event.modifiers() & ~SHIFTS or typed in ENDS or not self._wedge.text:
            self.hand_on()
            return False
        if len(self._wedge.text) == 1:
            # This one begins anew: what waited was no scan.
            self._give_back()
        self._held.append(_copy(event))
        self._rest.stop()
        self.timer.start()
        return True

    def _keep_release(self, event: QKeyEvent) -> bool:
        """Let no key be let go of before it was pressed."""
        if all(held.key() != event.key() for held in self._held):
            return False
        self._held.append(_copy(event))
        return True

    @Slot()
    def _on_time(self) -> None:
        # After a pause of the window more of the scan may wait to be read: that comes first.
        self._rest.start(0)

    @Slot()
    def hand_on(self) -> None:
        """Let what waited be keys, unless it is too long for a hand."""
        self._wedge.clear()
        self._give_back()

    def _give_back(self) -> None:
        self._stop()
        held, self._held = self._held, []
        pressed = sum(event.type() == QEvent.Type.KeyPress for event in held)
        if pressed >= LEAST or self._handle is None:
            # A scanner that is set up to end without Return: its characters are no keys.
            return
        self._handing_on = True
        try:
            for event in held:
                QCoreApplication.sendEvent(self._handle, event)
        finally:
            self._handing_on = False

    def _stop(self) -> None:
        self.timer.stop()
        self._rest.stop()
