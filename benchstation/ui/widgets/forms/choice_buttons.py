"""Up to five answers as large buttons, all in sight; it works as a list of choices does."""

from functools import partial

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QButtonGroup, QRadioButton, QSizePolicy, QVBoxLayout, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import palette_of, sized
from benchstation.ui.shell.layouts import down
from benchstation.ui.shell.theme import LARGE_PX, TARGET_PX
from benchstation.ui.widgets.forms.fields import ENTER, belongs_to_page

MOST = 5
SIDE, PAD = 26.0, 14.0
_STEPS = {
    Qt.Key.Key_Up: -1,
    Qt.Key.Key_Left: -1,
    Qt.Key.Key_Down: 1,
    Qt.Key.Key_Right: 1,
}


class Answer(QRadioButton):
    """One of them: a round mark, and the words as long as they are."""

    def __init__(self, words: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.words = words
        self.setAccessibleName(words)
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setMinimumHeight(TARGET_PX)

    def hitButton(self, pos: object) -> bool:
        """Return True anywhere on it."""
        return True

    def hasHeightForWidth(self) -> bool:
        """Return True: long words wrap."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return the height that the wrapped words need."""
        room = max(40, round(width - SIDE - 3 * PAD))
        flags = int(Qt.TextFlag.TextWordWrap)
        metrics = QFontMetrics(sized(self.font(), LARGE_PX))
        high = metrics.boundingRect(0, 0, room, 10_000, flags, self.words).height()
        return max(TARGET_PX, high + 18)

    def sizeHint(self) -> QSize:
        """Ask for mark and words."""
        metrics = QFontMetrics(sized(self.font(), LARGE_PX))
        return QSize(round(metrics.horizontalAdvance(self.words) + SIDE + 3 * PAD), TARGET_PX)

    def minimumSizeHint(self) -> QSize:
        """Return a width in which the words wrap."""
        return QSize(140, TARGET_PX)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Choose by Space; all else is the whole field's."""
        if event.key() == Qt.Key.Key_Space:
            super().keyPressEvent(event)
        else:
            event.ignore()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw frame, mark and words."""
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        chosen = palette.tone(Tone.MANDATORY)
        ring = palette.focus if self.hasFocus() else palette.edge
        painter.setPen(QPen(QColor(ring), 2))
        painter.setBrush(QColor(palette.raised if self.isChecked() else palette.well))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 6, 6)
        middle = QPointF(PAD + SIDE / 2, self.height() / 2)
        painter.setPen(QPen(QColor(chosen.fill if self.isChecked() else palette.quiet), 3))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(middle, SIDE / 2 - 2, SIDE / 2 - 2)
        if self.isChecked():
            painter.setBrush(QColor(chosen.fill))
            painter.drawEllipse(middle, SIDE / 4, SIDE / 4)
        painter.setFont(sized(self.font(), LARGE_PX, bold=self.isChecked()))
        painter.setPen(QColor(palette.text))
        room = QRectF(self.rect()).adjusted(SIDE + 2 * PAD, 4, -PAD / 2, -4)
        flags = int(Qt.AlignmentFlag.AlignVCenter) | int(Qt.TextFlag.TextWordWrap)
        painter.drawText(room, flags, self.words)


class ChoiceButtons(QWidget):
    """One of up to five, each with the value that goes back."""

    finished = Signal()
    left = Signal()
    """Esc was pressed: the keyboard goes back to the page."""
    activated = Signal(int)
    """A person chose one."""
    pointed = Signal()
    """A person chose one by a click or the space bar, and not on the way to another."""
    currentIndexChanged = Signal(int)

    def __init__(self, choices: tuple[tuple[str, str], ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._choices = choices
        self._group = QButtonGroup(self)
        self.answers: list[Answer] = []
        box: QVBoxLayout = down(self, spacing=6)
        for place, (_, words) in enumerate(choices):
            answer = Answer(words, self)
            answer.clicked.connect(partial(self._on_clicked, place))
            self._group.addButton(answer, place)
            self.answers.append(answer)
            box.addWidget(answer)
        self._aim()

    def findData(self, value: object) -> int:
        """Return the place of a value, -1 where it is none of them."""
        return next((n for n, (own, _) in enumerate(self._choices) if own == value), -1)

    def currentIndex(self) -> int:
        """Return the place of the one that is chosen, -1 for none."""
        return self._group.checkedId()

    def currentData(self) -> str:
        """Return the value of the one that is chosen, empty for none."""
        place = self.currentIndex()
        return self._choices[place][0] if place >= 0 else ""

    def setCurrentIndex(self, place: int) -> None:
        """Choose the one at a place; -1 chooses none."""
        if place == self.currentIndex():
            return
        self._group.setExclusive(False)
        for n, answer in enumerate(self.answers):
            answer.setChecked(n == place)
        self._group.setExclusive(True)
        self._aim()
        self.currentIndexChanged.emit(place)

    def setAccessibleName(self, name: str) -> None:
        """Name the whole, and each answer after it."""
        super().setAccessibleName(name)
        for answer in self.answers:
            answer.setAccessibleName(f"{name}: {answer.words}")

    def _aim(self) -> None:
        """Let the keyboard come to the one that is chosen, else to the first."""
        place = max(0, self.currentIndex())
        if self.answers:
            self.setFocusProxy(self.answers[place])
        for n, answer in enumerate(self.answers):
            tab = Qt.FocusPolicy.StrongFocus if n == place else Qt.FocusPolicy.ClickFocus
            answer.setFocusPolicy(tab)

    def _on_clicked(self, place: int, _: bool = False) -> None:
        self._aim()
        self.currentIndexChanged.emit(place)
        self.activated.emit(place)
        self.pointed.emit()

    def _choose(self, place: int) -> None:
        self.setCurrentIndex(place)
        self.answers[place].setFocus(Qt.FocusReason.OtherFocusReason)
        self.activated.emit(place)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Choose by the arrows; Enter goes on, Esc leaves; the rest is the page's."""
        key = Qt.Key(event.key())
        last = len(self.answers) - 1
        if key in ENTER:
            if not event.isAutoRepeat():
                self.finished.emit()
        elif belongs_to_page(event) or event.modifiers() & Qt.KeyboardModifier.AltModifier:
            event.ignore()
        elif key in _STEPS:
            now = self.currentIndex()
            self._choose(min(max(now + _STEPS[key], 0), last))
        elif key in (Qt.Key.Key_Home, Qt.Key.Key_End):
            self._choose(0 if key == Qt.Key.Key_Home else last)
        elif key == Qt.Key.Key_Escape:
            for answer in self.answers:
                answer.clearFocus()
            self.left.emit()
        else:
            event.ignore()
