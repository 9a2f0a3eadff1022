"""Signing in beside a running step: a low form under the task, which goes on meanwhile."""

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QVBoxLayout, QWidget

from benchstation.screens.model.elements import TaskView
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import across
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.readout.actions import Actions


class SwitchPanel(QFrame):
    """Name and PIN on one line. Esc goes back."""

    chosen = Signal(str, object)
    """Action id and fields."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self.title = label("", "strong", wrap=True)
        self.form = Form(columns=2)
        self.action_bar = Actions(columns=1, quiet=True)
        self.action_bar.setFixedWidth(132)
        left = QVBoxLayout()
        left.setSpacing(8)
        left.addWidget(self.title)
        left.addWidget(self.form)
        left.addStretch(1)
        row = across(self, (20, 12, 12, 12), 16)
        row.addLayout(left, 1)
        row.addWidget(self.action_bar, 0, Qt.AlignmentFlag.AlignTop)
        self._shown = False
        self.form.submitted.connect(self.action_bar.press_primary)
        self.form.left.connect(self._on_left)
        self.action_bar.chosen.connect(self._on_chosen)
        self.hide()

    def show_form(self, task: TaskView | None) -> None:
        """Show the form or nothing; a form that is new gets the keyboard."""
        new, self._shown = task is not None and not self._shown, task is not None
        if task is None:
            if self.isVisible():
                self.form.clear_secrets()
                self.hide()
                self.form.show_fields("", ())
                self.window().setFocus()
            return
        self.title.setText(task.title)
        self.form.show_fields(task.step_id, task.fields)
        self.action_bar.show_actions(task.actions)
        if new:
            self.show()
            self.form.focus_first()

    def press_key(self, key: str) -> bool:
        """Do the action on this key while the form is there."""
        return self._shown and self.action_bar.press_key(key)

    @Slot()
    def _on_left(self) -> None:
        self.action_bar.press_key("Esc")

    @Slot(str, object)
    def _on_chosen(self, action: str, _: dict[str, str]) -> None:
        fields = self.form.values()
        self.form.clear_secrets()
        self.chosen.emit(action, fields)
