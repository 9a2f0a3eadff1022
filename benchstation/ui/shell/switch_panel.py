"""Signing in beside a running step: a form in the right column, while the step goes on."""

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.elements import TaskView
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import down
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.readout.actions import Actions


class SwitchPanel(QFrame):
    """Name and PIN under each other. Esc goes back."""

    chosen = Signal(str, object)
    """Action id and fields."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self.title = label("", "strong", wrap=True)
        self.form = Form(columns=1)
        self.action_bar = Actions(columns=2, quiet=True)
        box = down(self, (12, 10, 12, 10), 8)
        for part in (self.title, self.form, self.action_bar):
            box.addWidget(part)
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

    @property
    def is_shown(self) -> bool:
        """Return True while somebody is about to take over."""
        return self._shown

    def needed(self, width: int) -> int:
        """Return the height that it takes in this width."""
        layout = self.layout()
        return layout.totalHeightForWidth(width) if layout is not None else 0

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
