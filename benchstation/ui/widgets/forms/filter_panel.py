"""The form of a search's filters, in the place of the record while it is open."""

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.elements import TaskView
from benchstation.screens.model.filters import (
    EMPTY,
    FIND,
    LEAVE,
    REMOVE,
    SAVE_AS,
    SAVED,
    WORDS,
    question_from,
)
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.readout.actions import Actions

COLUMNS = 3


class FilterPanel(QFrame):
    """A field for each filter; what it asks goes out as one text."""

    asked = Signal(str)
    saved = Signal(str, str)
    """Name and question; an empty question forgets the name."""
    closed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self._words = ""
        self.title = label("Filters", "title")
        self.form = Form(columns=COLUMNS)
        self.action_bar = Actions(quiet=True)
        box = down(self, (14, 12, 8, 12), 10)
        box.addWidget(self.title)
        inner = clear()
        column = down(inner, (0, 0, 10, 0))
        column.addWidget(self.form)
        column.addStretch(1)
        box.addWidget(Scroller(inner, "filters"), 1)
        box.addWidget(self.action_bar)
        self.form.submitted.connect(self.action_bar.press_primary)
        self.action_bar.chosen.connect(self._on_chosen)
        self.hide()

    def open(self, task: TaskView, words: str) -> None:
        """Show the fields, filled in as the search stands; its words stay."""
        self._words = words
        # Before it is seen, so that it is given the height of its buttons.
        self.action_bar.show_actions(task.actions)
        self.show()
        self.form.show_fields("", ())
        self.form.show_fields(task.step_id, task.fields)
        self.form.rows[0].editor.setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot(str, object)
    def _on_chosen(self, action: str, _: dict[str, str]) -> None:
        fields = {**self.form.values(), WORDS: self._words}
        if action == EMPTY:
            for row in self.form.rows:
                row.put("")
            return
        if action == REMOVE:
            row = next(row for row in self.form.rows if row.field.id == SAVED)
            names = {question: name for question, name in row.field.choices if question}
            if (name := names.get(row.value())) is not None:
                self.saved.emit(name, "")
            return
        self.hide()
        if action == LEAVE:
            self.closed.emit()
        if action == FIND:
            question = question_from(fields)
            if fields.get(SAVE_AS, "").strip() and question:
                self.saved.emit(fields[SAVE_AS].strip(), question)
            self.asked.emit(question)
