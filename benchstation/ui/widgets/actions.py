"""A step's actions in a row or two. One that needs a reason asks for it in place."""

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QGridLayout, QSizePolicy, QVBoxLayout, QWidget

from benchstation.bench_view import ActionView
from benchstation.ui.widgets.action_button import LEAST_WIDTH_PX, ActionButton, same_key
from benchstation.ui.widgets.fields import TextField
from benchstation.ui.widgets.labels import label

REASON, GAP_PX = "reason", 8


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
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
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
        self._grid.setSpacing(GAP_PX)
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
        widest = max((b.least_width() for b in self.buttons[:count]), default=LEAST_WIDTH_PX)
        room = max(1, (self.width() + GAP_PX) // (widest + GAP_PX))
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
