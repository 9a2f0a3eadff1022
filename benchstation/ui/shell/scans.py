"""Scans among the keys, and the signs that somebody is there.

A scanner types faster than a hand, but its first character could be an action's key: so a key that
types something waits a moment, and is handed on when nothing follows it as fast as a scanner would.
In a text field the first character goes in at once and only what follows as fast waits: a badge
must become no text, and its end must send nothing. Somebody else says whether it is one.
"""

import time
from collections.abc import Callable

from PySide6.QtCore import QCoreApplication, QEvent, QObject, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QKeyEvent, QTextCursor, QWindow
from PySide6.QtWidgets import QLineEdit, QPlainTextEdit, QWidget
from shiboken6 import isValid

from benchstation.ui.shell.wedge import ENDS, GAP_S, LEAST, Wedge

WAIT_MS = round(GAP_S * 1e3) + 10
PRESSES = (QEvent.Type.KeyPress, QEvent.Type.MouseButtonPress, QEvent.Type.TouchBegin)
SHIFTS = Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.KeypadModifier
SILENT = (Qt.Key.Key_Shift, Qt.Key.Key_CapsLock, Qt.Key.Key_AltGr)


def event_s(event: QKeyEvent) -> float:
    """Return when a key was pressed, s: as the system says, since a busy window reads it later."""
    return event.timestamp() / 1e3 or time.monotonic()


def _copy(event: QKeyEvent) -> QKeyEvent:
    # The system's own event ends with its handling; a clone of it would never end.
    key, modifiers = Qt.Key(event.key()), event.modifiers()
    return QKeyEvent(event.type(), key, modifiers, event.text(), event.isAutoRepeat())


def _text_of(field: QLineEdit | QPlainTextEdit) -> str:
    return field.text() if isinstance(field, QLineEdit) else field.document().toRawText()


def _mark_of(field: QLineEdit | QPlainTextEdit) -> tuple[int, int]:
    """Return where what is marked begins and ends; both are the cursor where nothing is."""
    if isinstance(field, QLineEdit):
        start = field.selectionStart()
        return (start, field.selectionEnd()) if start >= 0 else (field.cursorPosition(),) * 2
    cursor = field.textCursor()
    return cursor.selectionStart(), cursor.selectionEnd()


def _take_back_one(field: QLineEdit | QPlainTextEdit, replaced: str) -> None:
    """Take the character before the cursor out, and put back and mark what it took the place of."""
    if isinstance(field, QLineEdit):
        field.backspace()
        start = field.cursorPosition()
        field.insert(replaced)
        field.setSelection(start, len(replaced))
        return
    cursor = field.textCursor()
    cursor.deletePreviousChar()
    start = cursor.position()
    cursor.insertText(replaced)
    cursor.setPosition(start)
    cursor.setPosition(start + len(replaced), QTextCursor.MoveMode.KeepAnchor)
    field.setTextCursor(cursor)


class Scans(QObject):
    """Watches what reaches one window of the system, before its widgets see it."""

    scanned = Signal(str)
    written = Signal(str)
    """A burst in a text field: its keys wait until :meth:`settle` says whether it is text."""
    stirred = Signal()
    """A key, a click or a scan came."""

    def __init__(self, window: QWidget, *, at_s: Callable[[QKeyEvent], float] = event_s) -> None:
        super().__init__(window)
        self._window, self.at_s = window, at_s
        self._handle: QWindow | None = None
        self._wedge = Wedge()
        self._held: list[QKeyEvent] = []
        self._field: QLineEdit | QPlainTextEdit | None = None
        """The text field that what waits was typed in."""
        self._with_first = self._replaced = ""
        """Its text with the first character of the burst, and what that took the place of."""
        self._first: QKeyEvent | None = None
        self._asking = False
        self._handing_on = False
        self.timer = QTimer(self)
        self.timer.setSingleShot(True)
        self.timer.setInterval(WAIT_MS)
        self.timer.timeout.connect(self._on_time)
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.timeout.connect(self._on_rest)

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
            if kind != QEvent.Type.KeyPress and not self._asking:
                # A key that was pressed before the click counts before it.
                self.hand_on()
        if not isinstance(event, QKeyEvent) or self._in_secret():
            return False
        if kind == QEvent.Type.KeyPress:
            return self._take(event)
        return kind == QEvent.Type.KeyRelease and self._keep_release(event)

    def _in_secret(self) -> bool:
        """Return True when a PIN is being typed: that field takes a badge in its place."""
        field = self._window.focusWidget()
        return isinstance(field, QLineEdit) and field.echoMode() != QLineEdit.EchoMode.Normal

    def pin_begun(self) -> bool:
        """Return True while some of a PIN stands in the field that has the keyboard."""
        field = self._window.focusWidget()
        return self._in_secret() and isinstance(field, QLineEdit) and bool(field.text())

    def _text_field(self) -> QLineEdit | QPlainTextEdit | None:
        field = self._window.focusWidget()
        return field if isinstance(field, QLineEdit | QPlainTextEdit) else None

    def _take(self, event: QKeyEvent) -> bool:
        typed = event.text()
        if self._asking:
            # What comes after a scan stays after it; an alarm's key types nothing.
            if typed:
                self._held.append(_copy(event))
            return bool(typed)
        if not typed:
            # Shift and its like change nothing; any other key comes after those that wait.
            if event.key() not in SILENT:
                self.hand_on()
            return False
        scan = self._wedge.feed(typed, self.at_s(event), repeat=event.isAutoRepeat())
        if scan is not None and self._field is None:
            self._stop()
            self._held.clear()
            self.scanned.emit(scan)
            return True
        if scan is not None:
            self._held.append(_copy(event))
            self._ask(scan)
            return True
        if event.modifiers() & ~SHIFTS or typed in ENDS or not self._wedge.text:
            self.hand_on()
            return False
        if len(self._wedge.text) == 1:
            # This one begins anew: what waited was no scan.
            self._give_back()
            self._begin(event)
            if self._field is not None:
                return False
        self._held.append(_copy(event))
        self._rest.stop()
        self.timer.start()
        return True

    def _keep_release(self, event: QKeyEvent) -> bool:
        """Return True for the release of a key whose press is held back."""
        if all(held.key() != event.key() for held in self._held):
            return False
        self._held.append(_copy(event))
        return True

    @Slot()
    def _on_time(self) -> None:
        # After a pause of the window more of the scan may wait to be read: that comes first.
        self._rest.start(0)

    @Slot()
    def _on_rest(self) -> None:
        if self._field is not None and len(self._wedge.text) >= LEAST:
            # A scanner that is set up to end without Return.
            self._ask(self._wedge.text.strip())
        else:
            self.hand_on()

    def _begin(self, event: QKeyEvent) -> None:
        """Remember where the first character goes, and what is there."""
        self._first, self._field = _copy(event), self._text_field()
        if self._field is not None:
            text, (start, end) = _text_of(self._field), _mark_of(self._field)
            self._replaced = text[start:end]
            self._with_first = text[:start] + event.text() + text[end:]

    def _ask(self, burst: str) -> None:
        """Take the first character back, so that all of the burst waits for the answer."""
        self._stop()
        field = self._field
        if field is not None and isValid(field) and _text_of(field) == self._with_first:
            _take_back_one(field, self._replaced)
            if self._first is not None:
                self._held.insert(0, self._first)
        self._asking = True
        self.written.emit(burst)

    def settle(self, *, is_text: bool) -> None:
        """Hand on the burst that was asked about, or let it drop."""
        if self._asking:
            self._asking = False
            if not is_text:
                self._held.clear()
            self.hand_on()

    @Slot()
    def hand_on(self) -> None:
        """Hand on what waited as keys, unless it is too long for a hand and no field is there."""
        self._wedge.clear()
        self._give_back()

    def _give_back(self) -> None:
        self._stop()
        held, self._held = self._held, []
        field, self._field = self._field, None
        pressed = sum(event.type() == QEvent.Type.KeyPress for event in held)
        if field is not None and field is not self._text_field():
            # Another place has the keyboard now: there they would be another's text, or actions.
            return
        if (pressed >= LEAST and field is None) or self._handle is None:
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
