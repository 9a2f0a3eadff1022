"""Actions: large, each on a key that stands on it; a disabled one says why on its own face."""

from PySide6.QtCore import QRect, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QColor, QFont, QFontMetrics, QKeySequence, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QGridLayout, QHBoxLayout, QSizePolicy, QVBoxLayout
from PySide6.QtWidgets import QWidget

from benchstation.bench_view import ActionView, Tone
from benchstation.ui.theme import LARGE_PX, SMALL_PX, TARGET_PX
from benchstation.ui.widgets.fields import TextField
from benchstation.ui.widgets.labels import label, palette_of

REASON = "reason"
FACE_PX, QUIET_FACE_PX, LEAST_WIDTH_PX, PAD = 72, TARGET_PX, 168, 14


def same_key(pressed: str, key: str) -> bool:
    """Say whether a pressed key is an action's key, however each is spelt."""
    return bool(key) and QKeySequence(pressed) == QKeySequence(key)


def shown_key(key: str) -> str:
    """Give a key's name as this system writes it."""
    if key == "Return":
        return "Enter"
    return QKeySequence(key).toString(QKeySequence.SequenceFormat.NativeText) or key


class ActionButton(QAbstractButton):
    """One action. Disabled it cannot be pressed, and says why."""

    def __init__(self, *, quiet: bool = False, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._action = ActionView("", "", "")
        self._quiet = quiet
        # By Tab only: a click must not take the keyboard away from the page.
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    @property
    def action(self) -> ActionView:
        """What it does."""
        return self._action

    def show_action(self, action: ActionView) -> None:
        """Show an action; does nothing when it is the one that stands there."""
        if action == self._action:
            return
        self._action = action
        self.setEnabled(action.enabled)
        self.setAccessibleName(f"{action.label}, key {shown_key(action.key)}")
        self.setAccessibleDescription(action.why_not)
        self._fit()
        self.updateGeometry()
        self.update()

    def _font(self, size: int, *, bold: bool = False) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(size)
        font.setBold(bold)
        return font

    def _label_font(self) -> QFont:
        return self._font(16 if self._quiet else LARGE_PX, bold=not self._quiet)

    def _key_width(self) -> int:
        if not self._action.key:
            return 0
        metrics = QFontMetrics(self._font(SMALL_PX))
        return metrics.horizontalAdvance(shown_key(self._action.key)) + 16

    def _why_height(self, width: int) -> int:
        if self._action.enabled or not self._action.why_not:
            return 0
        metrics = QFontMetrics(self._font(SMALL_PX))
        flags = int(Qt.TextFlag.TextWordWrap)
        box = metrics.boundingRect(0, 0, width - 2 * PAD, 1000, flags, self._action.why_not)
        return box.height()

    def _label_height(self, width: int) -> int:
        room = width - 2 * PAD - self._key_width() - 8
        flags = int(Qt.TextFlag.TextWordWrap)
        metrics = QFontMetrics(self._label_font())
        return metrics.boundingRect(0, 0, max(40, room), 1000, flags, self._action.label).height()

    def _fit(self) -> None:
        """Grow for words that need it, never shrink below a finger."""
        width = max(self.width(), 100)
        need = self._label_height(width) + self._why_height(width) + 18
        self.setFixedHeight(max(QUIET_FACE_PX if self._quiet else FACE_PX, need))

    def resizeEvent(self, event: object) -> None:
        """Fit the words to the new width."""
        self._fit()

    def sizeHint(self) -> QSize:
        """Ask for label and key on one line."""
        width = QFontMetrics(self._label_font()).horizontalAdvance(self._action.label)
        return QSize(width + self._key_width() + 2 * PAD + 12, self.height())

    def minimumSizeHint(self) -> QSize:
        """Words may wrap."""
        return QSize(96 if self._quiet else LEAST_WIDTH_PX, self.height())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw face, label, key, and why not."""
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        action, blue = self._action, palette.tone(Tone.MANDATORY)
        strong = action.primary and action.enabled
        face = blue.fill if strong else palette.raised if action.enabled else palette.panel
        if self.isDown() or (self.underMouse() and action.enabled and not strong):
            face = palette.pressed
        ink = blue.sign if strong and not self.isDown() else palette.text
        box = QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5)
        edge = QPen(QColor(face if action.enabled else palette.line), 2)
        if not action.enabled:
            edge.setStyle(Qt.PenStyle.DashLine)
        if self.hasFocus():
            edge = QPen(QColor(palette.focus), 3)
        painter.setPen(edge)
        painter.setBrush(QColor(face))
        painter.drawRoundedRect(box, 8, 8)
        inner = self.rect().adjusted(PAD, 8, -PAD, -8)
        why = self._why_height(self.width())
        line = QRect(inner.left(), inner.top(), inner.width(), inner.height() - why)
        self._key(painter, line, ink if action.enabled else palette.quiet)
        painter.setFont(self._label_font())
        painter.setPen(QColor(ink if action.enabled else palette.quiet))
        flags = int(Qt.AlignmentFlag.AlignVCenter) | int(Qt.TextFlag.TextWordWrap)
        painter.drawText(line.adjusted(0, 0, -self._key_width() - 8, 0), flags, action.label)
        if why:
            painter.setFont(self._font(SMALL_PX))
            painter.setPen(QColor(palette.text))
            below = QRect(inner.left(), line.bottom(), inner.width(), why + 2)
            painter.drawText(below, int(Qt.TextFlag.TextWordWrap), action.why_not)

    def _key(self, painter: QPainter, line: QRect, ink: str) -> None:
        if not self._action.key:
            return
        painter.setFont(self._font(SMALL_PX))
        width = self._key_width()
        chip = QRectF(line.right() - width, line.center().y() - 12, width, 25)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(ink), 1.2))
        painter.drawRoundedRect(chip, 5, 5)
        painter.drawText(chip, Qt.AlignmentFlag.AlignCenter, shown_key(self._action.key))


class Actions(QWidget):
    """The actions of a step, in the order given. One that needs a reason asks for it in place."""

    chosen = Signal(str, str)
    """Action id and reason; the reason is empty where none is needed."""
    refused = Signal(str)
    """The key of a disabled action was pressed: the words why not."""

    def __init__(
        self, *, columns: int = 0, quiet: bool = False, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._fixed, self._quiet, self._columns = columns, quiet, 0
        self.buttons: list[ActionButton] = []
        self._shown: tuple[ActionView, ...] = ()
        self._asking: ActionView | None = None
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.setSpacing(8)
        self.ask = QWidget(self)
        self.ask.setObjectName("clear")
        self.question = label("", "strong", wrap=True)
        self.reason = TextField()
        self.send, self.leave = ActionButton(), ActionButton()
        self.send.show_action(ActionView("send", "Do it", "Return", primary=True))
        self.leave.show_action(ActionView("leave", "Leave it", "Esc"))
        asked = QGridLayout(self.ask)
        asked.setContentsMargins(0, 0, 0, 0)
        asked.setSpacing(6)
        asked.addWidget(self.question, 0, 0, 1, 2)
        asked.addWidget(self.reason, 1, 0, 1, 2)
        asked.addWidget(self.leave, 2, 0)
        asked.addWidget(self.send, 2, 1)
        box.addWidget(self.ask)
        self._grid = QGridLayout()
        self._grid.setSpacing(8)
        box.addLayout(self._grid)
        self.ask.hide()
        self.reason.finished.connect(self._on_send)
        self.reason.left.connect(self.stop_asking)
        self.send.clicked.connect(self._on_send)
        self.leave.clicked.connect(self.stop_asking)

    def show_actions(self, actions: tuple[ActionView, ...]) -> None:
        """Show these actions."""
        if actions == self._shown:
            return
        same_number = len(actions) == len(self._shown)
        self._shown = actions
        while len(self.buttons) < len(actions):
            button = ActionButton(quiet=self._quiet, parent=self)
            button.clicked.connect(self._on_clicked)
            self.buttons.append(button)
        for count, button in enumerate(self.buttons):
            if count < len(actions):
                button.show_action(actions[count])
            button.setVisible(count < len(actions))
        if not same_number:
            self._columns = 0
            self._arrange()
        if self._asking and not any(a.id == self._asking.id and a.enabled for a in actions):
            self.stop_asking()

    def _arrange(self) -> None:
        count = len(self._shown)
        room = max(1, self.width() // (LEAST_WIDTH_PX + 10))
        columns = self._fixed or max(1, min(count, room))
        if not self._fixed and count > columns:
            # Rows as even as can be: three and three, not five and one.
            columns = -(-count // -(-count // columns))
        if columns == self._columns:
            return
        self._columns = columns
        for button in self.buttons:
            self._grid.removeWidget(button)
        for place, button in enumerate(self.buttons[:count]):
            self._grid.addWidget(button, place // columns, place % columns)
        for column in range(self._grid.columnCount()):
            self._grid.setColumnStretch(column, 0)
        for place, action in enumerate(self._shown):
            column = place % columns
            wide = 3 if action.primary and not self._fixed else 2
            stretch = max(self._grid.columnStretch(column), wide)
            self._grid.setColumnStretch(column, stretch)

    def resizeEvent(self, event: object) -> None:
        """Break into rows when there is no room for one."""
        self._arrange()

    def press_key(self, pressed: str) -> bool:
        """Do the action on this key; says whether there is one, enabled or not."""
        if self._asking is not None and same_key(pressed, "Esc"):
            self.stop_asking()
            return True
        for action in self._shown:
            if same_key(pressed, action.key):
                self._choose(action)
                return True
        return False

    def press_primary(self) -> None:
        """Do the primary action."""
        for action in self._shown:
            if action.primary:
                self._choose(action)
                return

    @Slot()
    def _on_clicked(self) -> None:
        for button, action in zip(self.buttons, self._shown, strict=False):
            if button is self.sender():
                self._choose(action)
                return

    def _choose(self, action: ActionView) -> None:
        if not action.enabled:
            self.refused.emit(f"{action.label}: {action.why_not or 'not possible now'}")
            return
        if not action.needs_reason:
            self.chosen.emit(action.id, "")
            return
        self._asking = action
        question = f"{action.label}: why? A few words, they stay on record."
        self.question.setText(question)
        self.reason.setAccessibleName(question)
        self.reason.clear()
        self.ask.show()
        self.reason.setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot()
    def _on_send(self) -> None:
        action, reason = self._asking, self.reason.text().strip()
        if action is None:
            return
        if not reason:
            self.question.setText(f"{action.label}: say why first, in a few words.")
            self.reason.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        self.stop_asking()
        self.chosen.emit(action.id, reason)

    @Slot()
    def stop_asking(self) -> None:
        """Leave the question; nothing is done."""
        self._asking = None
        self.ask.hide()
        self.reason.clear()
        self.reason.clearFocus()
