"""The form of an act on what is open, in its place while it is filled in."""

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.elements import TaskView
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.readout.actions import Actions

LEAVE = "leave"


class ActPanel(QFrame):
    """What is to be filled in for one act; it stays until the act is done or left."""

    asked = Signal(str, object)
    """The act and its fields."""
    closed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self.title = label("", "title", wrap=True)
        self.words = label("", "quiet", wrap=True)
        self.form = Form()
        self.action_bar = Actions(quiet=True)
        box = down(self, (14, 12, 8, 12), 10)
        box.addWidget(self.title)
        box.addWidget(self.words)
        inner = clear()
        column = down(inner, (0, 0, 10, 0))
        column.addWidget(self.form)
        column.addStretch(1)
        box.addWidget(Scroller(inner, "what is put on record"), 1)
        box.addWidget(self.action_bar)
        self.form.submitted.connect(self.action_bar.press_primary)
        self.action_bar.chosen.connect(self._on_chosen)
        self.hide()

    def open(self, task: TaskView) -> None:
        """Show an empty form."""
        self.title.setText(task.title)
        self.words.setText(task.instruction)
        self.form.show_fields("", ())
        self.form.show_fields(task.step_id, task.fields)
        self.action_bar.show_actions(task.actions)
        self.show()
        self.form.focus_first()

    def close_form(self) -> None:
        """Leave the form; what was typed goes."""
        self.form.show_fields("", ())
        self.hide()

    def stay(self) -> None:
        """Keep what was typed after a refusal, but for PINs."""
        self.form.clear_secrets()
        self.form.focus_first()

    @Slot(str, object)
    def _on_chosen(self, action: str, _: dict[str, str]) -> None:
        if action == LEAVE:
            self.close_form()
            self.closed.emit()
            return
        self.asked.emit(action, self.form.values())
