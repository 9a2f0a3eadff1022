"""Fields that keep to the house's rules: Enter goes on, Esc leaves, nothing changes by a wheel."""

import sys
from time import monotonic

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QKeyEvent, QPainter, QPaintEvent, QPen, QWheelEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QLineEdit,
    QSizePolicy,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionComboBox,
    QStylePainter,
    QWidget,
)

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import palette_of
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import LARGE_PX, TARGET_PX
from benchstation.ui.shell.wedge import Wedge

ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
PADDING_PX, ARROW_PX = 12, 34
KEYPAD = Qt.KeyboardModifier.KeypadModifier


EDITING = frozenset("ACVXZ")


def belongs_to_page(event: QKeyEvent, editing: frozenset[str] = EDITING) -> bool:
    """Return True when a Ctrl key is the page's: all letters but those of clipboard and undo.

    Some systems move or delete in a field by others, such as Ctrl+E and Ctrl+U. Letters and digits
    with Alt are the page's too, and would be typed; on macOS Alt makes characters of them.
    """
    if event.modifiers() & ~KEYPAD == Qt.KeyboardModifier.AltModifier:
        return sys.platform != "darwin" and 32 < event.key() < 127
    if event.modifiers() & ~KEYPAD != Qt.KeyboardModifier.ControlModifier:
        return False
    return 32 < event.key() < 127 and chr(event.key()) not in editing


def _leaves(widget: QWidget, event: QKeyEvent) -> bool:
    """Take Esc as leaving the field."""
    if event.key() == Qt.Key.Key_Escape:
        widget.clearFocus()
        return True
    return False


class TextField(QLineEdit):
    """A line of text."""

    finished = Signal()
    """Enter was pressed."""
    left = Signal()
    """Esc was pressed: the keyboard goes back to the page."""

    def __init__(self, parent: QWidget | None = None, *, secret: bool = False) -> None:
        super().__init__(parent)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.NoContextMenu)
        self._wedge: Wedge | None = None
        if secret:
            self.setEchoMode(QLineEdit.EchoMode.Password)
            self._wedge = Wedge()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter and Esc are ours, some are the page's; the rest is typing."""
        if self._wedge is not None:
            scan = self._wedge.feed(event.text(), monotonic(), repeat=event.isAutoRepeat())
            if scan is not None and self.text().endswith(scan):
                # What a hand had begun to type is no part of a badge.
                self.setText(scan)
        if event.key() in ENTER:
            if not event.isAutoRepeat():
                self.finished.emit()
        elif belongs_to_page(event):
            event.ignore()
        elif _leaves(self, event):
            self.left.emit()
        else:
            super().keyPressEvent(event)


class ChoiceField(QComboBox):
    """One of several, each with the value that goes back."""

    finished = Signal()
    left = Signal()
    """Esc was pressed: the keyboard goes back to the page."""

    def __init__(self, choices: tuple[tuple[str, str], ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._choices: tuple[tuple[str, str], ...] = ()
        self.offer(choices)
        # The usual one takes no height from a style sheet, and rows would be less than a finger.
        self.setItemDelegate(QStyledItemDelegate(self))
        self.setPlaceholderText("choose")
        self.setMinimumContentsLength(8)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)

    def offer(self, choices: tuple[tuple[str, str], ...]) -> None:
        """Offer these; what was chosen stays chosen if it is among them."""
        if choices == self._choices:
            return
        chosen, self._choices = self.currentData(), choices
        self.clear()
        for value, text in choices:
            self.addItem(text, value)
        self.setCurrentIndex(self.findData(chosen) if chosen else -1)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter goes on; Space opens the list; F4, which would too, changes the page.

        So do keys with Ctrl, which would be searched for in the list.
        """
        control = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        alt = event.modifiers() & Qt.KeyboardModifier.AltModifier
        alt_up = bool(alt) and event.key() == Qt.Key.Key_Up
        if control or alt_up or event.key() == Qt.Key.Key_F4 or belongs_to_page(event):
            # The box would swallow Ctrl+PgDown, and choose another by Alt+Up.
            event.ignore()
            return
        if event.key() in ENTER:
            if not event.isAutoRepeat():
                self.finished.emit()
            return
        if _leaves(self, event):
            self.left.emit()
        else:
            super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it with an arrow, which a style sheet has only as a picture.

        A choice too long for the field ends in dots: a style sheet would cut it in mid-letter.
        """
        painter = QStylePainter(self)
        option = QStyleOptionComboBox()
        self.initStyleOption(option)
        room = self.width() - 2 * PADDING_PX - ARROW_PX
        if self.currentIndex() < 0:
            option.currentText = self.placeholderText()
        option.currentText = self.fontMetrics().elidedText(
            option.currentText, Qt.TextElideMode.ElideRight, room
        )
        painter.drawComplexControl(QStyle.ComplexControl.CC_ComboBox, option)
        painter.drawControl(QStyle.ControlElement.CE_ComboBoxLabel, option)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        pen = QPen(QColor(palette_of(self).text), 2.5)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(pen)
        x, y = self.width() - 24.0, self.height() / 2.0
        painter.drawPolyline([QPointF(x - 7, y - 3), QPointF(x, y + 4), QPointF(x + 7, y - 3)])

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Leave the wheel to the page: a passing scroll must not choose another oil."""
        event.ignore()


class CheckField(QCheckBox):
    """A statement to confirm, as large as a finger."""

    finished = Signal()
    SIDE = 30

    def __init__(self, text: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.words = text
        self.setAccessibleName(text)
        self.setMinimumHeight(TARGET_PX)
        # Else its words on one line would be the least width of the whole form.
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Tick by Space; continue by Enter."""
        if event.key() in ENTER:
            if not event.isAutoRepeat():
                self.finished.emit()
            return
        if event.modifiers() & ~KEYPAD:
            # A button would go to its neighbour by Alt+Up; with a key beside it, it is the page's.
            event.ignore()
        elif not _leaves(self, event):
            super().keyPressEvent(event)

    def hitButton(self, pos: object) -> bool:
        """Return True anywhere on the line."""
        return True

    def sizeHint(self) -> QSize:
        """Ask for box and words."""
        return QSize(self.SIDE + 60 + self._metrics().horizontalAdvance(self.words), TARGET_PX)

    def minimumSizeHint(self) -> QSize:
        """Return a width in which the words wrap."""
        return QSize(160, TARGET_PX)

    def hasHeightForWidth(self) -> bool:
        """Return True: long words wrap."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return the height that the wrapped words need."""
        room = max(40, width - self.SIDE - 44)
        flags = int(Qt.TextFlag.TextWordWrap)
        high = self._metrics().boundingRect(0, 0, room, 10_000, flags, self.words).height()
        return max(TARGET_PX, high + 18)

    def _metrics(self) -> QFontMetrics:
        font = self.font()
        font.setPixelSize(px(LARGE_PX))
        return QFontMetrics(font)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw frame, box, tick and words."""
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        ring = palette.focus if self.hasFocus() else palette.edge
        painter.setPen(QPen(QColor(ring), 2))
        painter.setBrush(QColor(palette.well))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 6, 6)
        # Green is for what was measured and judged; this is only what a person says.
        said = palette.tone(Tone.MANDATORY)
        top = (self.height() - self.SIDE) / 2
        box = QRectF(14, top, self.SIDE, self.SIDE)
        painter.setPen(QPen(QColor(said.ink if self.isChecked() else palette.quiet), 2))
        painter.setBrush(QColor(said.fill if self.isChecked() else palette.well))
        painter.drawRoundedRect(box, 5, 5)
        if self.isChecked():
            pen = QPen(QColor(said.sign), 4)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            points = [(0.24, 0.52), (0.43, 0.71), (0.77, 0.31)]
            painter.drawPolyline(
                [box.topLeft() + QPointF(x * self.SIDE, y * self.SIDE) for x, y in points]
            )
        font = self.font()
        font.setPixelSize(px(LARGE_PX))
        painter.setFont(font)
        painter.setPen(QColor(palette.text))
        room = QRectF(self.rect()).adjusted(self.SIDE + 28, 4, -10, -4)
        flags = int(Qt.AlignmentFlag.AlignVCenter) | int(Qt.TextFlag.TextWordWrap)
        painter.drawText(room, flags, self.words)
