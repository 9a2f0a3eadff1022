"""A step's form. What is typed stays when the view is refreshed, and goes when the step does."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QGridLayout, QWidget

from benchstation.screens.model.elements import FieldKind, FieldView
from benchstation.ui.shell.labels import label, set_property
from benchstation.ui.shell.layouts import down
from benchstation.ui.widgets.forms.choice_buttons import ChoiceButtons
from benchstation.ui.widgets.forms.fields import CheckField, ChoiceField, TextField
from benchstation.ui.widgets.forms.lines_field import LinesField
from benchstation.ui.widgets.forms.photo_field import PhotoField
from benchstation.ui.widgets.forms.stack_field import StackField

YES = "yes"
TWO_COLUMNS_FROM_PX = 620
Editor = TextField | ChoiceField | ChoiceButtons | CheckField | LinesField | StackField | PhotoField
Choices = ChoiceField | ChoiceButtons
WIDE = (FieldKind.CHECK, FieldKind.LINES, FieldKind.STACK, FieldKind.PHOTO)
"""Kinds that stand on a line of their own, to be read whole."""


class FieldRow(QWidget):
    """Label, editor and hint of one field."""

    edited = Signal()
    """Something was changed that the station compares or draws."""
    touched_now = Signal()
    """Somebody typed or chose something here."""

    def __init__(
        self, field: FieldView, parent: QWidget | None = None, *, buttons_up_to: int = 0
    ) -> None:
        super().__init__(parent)
        self.field = field
        self._buttons_up_to = buttons_up_to
        self.touched = self._typed_wrong = False
        self.absent = False
        """Nothing is asked here as long as another field is not ticked."""
        self._put = ""
        self.editor = self._make(field)
        box = down(self, spacing=3)
        if not isinstance(self.editor, CheckField):
            box.addWidget(label(field.label, "quiet", wrap=True))
        box.addWidget(self.editor)
        self.hint = label(field.hint, "small", wrap=True)
        self.hint.setVisible(bool(field.hint))
        box.addWidget(self.hint)
        self.error = label("", "error", wrap=True)
        self.error.hide()
        box.addWidget(self.error)
        box.addStretch(1)
        self.put(field.value)
        self._show_more(field)

    def _make(self, field: FieldView) -> Editor:
        editor: Editor
        if field.kind is FieldKind.CHOICE:
            few = 0 < len(field.choices) <= self._buttons_up_to and not field.narrowed_by
            editor = (ChoiceButtons if few else ChoiceField)(field.choices)
            editor.activated.connect(self._touch)
        elif field.kind is FieldKind.CHECK:
            editor = CheckField(field.label)
            editor.clicked.connect(self._touch)
            # What a tick rests on is so at this moment, not when the step is signed.
            editor.clicked.connect(self.edited)
        elif field.kind is FieldKind.LINES:
            editor = LinesField()
            editor.written.connect(self._touch)
        elif field.kind is FieldKind.STACK:
            editor = StackField()
            editor.edited.connect(self._touch)
            editor.edited.connect(self.edited)
        elif field.kind is FieldKind.PHOTO:
            editor = PhotoField()
            editor.edited.connect(self._touch)
        else:
            editor = TextField(secret=field.kind is FieldKind.PIN)
            editor.textEdited.connect(self._touch)
        editor.setAccessibleName(field.label)
        editor.setAccessibleDescription(field.hint)
        return editor

    @Slot()
    def _touch(self) -> None:
        self.touched = True
        self.show_error("")
        self.touched_now.emit()

    def show_wrong(self, words: str) -> None:
        """Tell what is wrong with what was typed here so far; what is empty is not wrong yet."""
        if self.touched and (words or self._typed_wrong):
            self.show_error(words if self.value() else "")
            self._typed_wrong = bool(self.error.text())

    def show_error(self, words: str) -> None:
        """Outline the field and say under it what is wrong with it; empty: nothing is."""
        if words == self.error.text():
            return
        self._typed_wrong = False
        self.error.setText(words)
        self.error.setVisible(bool(words))
        set_property(self.editor, "wrong", "yes" if words else "")
        self.editor.setAccessibleDescription(words or self.hint.text())

    def _show_more(self, field: FieldView) -> None:
        if isinstance(self.editor, StackField | PhotoField):
            self.editor.show_field(field)

    def put(self, value: str) -> None:
        """Set the value that the station gives."""
        self._put = value
        if isinstance(self.editor, Choices):
            self.editor.setCurrentIndex(self.editor.findData(value) if value else -1)
        elif isinstance(self.editor, CheckField):
            self.editor.setChecked(value == YES)
        else:
            self.editor.setText(value)

    def value(self) -> str:
        """Return what goes back."""
        if self.absent:
            return ""
        if isinstance(self.editor, Choices):
            return str(self.editor.currentData() or "")
        if isinstance(self.editor, CheckField):
            return YES if self.editor.isChecked() else ""
        return self.editor.text()

    def narrow(self, by: str) -> None:
        """Offer what goes with the value of another field, and keep what is chosen if it does."""
        found = next((n for n in self.field.narrowed if n.by == by), None)
        if isinstance(self.editor, ChoiceField):
            wanted = self.value() or ("" if self.touched else self._put)
            self.editor.offer(found.choices if found else self.field.choices)
            self.editor.setCurrentIndex(self.editor.findData(wanted) if wanted else -1)
        self._say_hint(found.hint if found else self.field.hint)

    def _say_hint(self, hint: str) -> None:
        self.hint.setText(hint)
        self.hint.setVisible(bool(hint))
        self.editor.setAccessibleDescription(hint)

    def update_field(self, field: FieldView) -> None:
        """Take a new hint, and a new value unless a person has touched the field.

        A tick that the station took back is gone, whoever made it.
        """
        if field.hint != self.field.hint:
            self._say_hint(field.hint)
        taken_back = isinstance(self.editor, CheckField) and self.field.value == YES
        untouched = taken_back or not (self.touched and self.value())
        if field.value != self.field.value and untouched:
            self.put(field.value)
        self._show_more(field)
        self.field = field


def _shape_of(field: FieldView) -> tuple[tuple[str, str], ...]:
    """Return the choices that make another editor; what a stack may start from does not."""
    return () if field.kind is FieldKind.STACK else field.choices


def _holds(editor: QWidget, keyboard: QWidget | None) -> bool:
    return keyboard is not None and (editor is keyboard or editor.isAncestorOf(keyboard))


class Form(QWidget):
    """The fields of a step."""

    submitted = Signal()
    """Enter in the last field."""
    edited = Signal()
    """Something was changed that the station compares or draws."""
    typed = Signal(str)
    """Somebody types into a line of text: its new text."""
    changed = Signal()
    """Somebody typed or chose something in one of the fields."""
    asked = Signal(str)
    """Enter in a field that looks something up: the action that does it."""
    left = Signal()
    """Esc in a text or choice."""

    def __init__(
        self, parent: QWidget | None = None, *, columns: int = 0, buttons_up_to: int = 0
    ) -> None:
        """Make a form of so many columns; 0: one, or two where there is room.

        Choices of up to ``buttons_up_to`` are large buttons, of more a list.
        """
        super().__init__(parent)
        self.setObjectName("clear")
        self._buttons_up_to = buttons_up_to
        self._fixed = columns
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(20)
        self._grid.setVerticalSpacing(10)
        self.rows: list[FieldRow] = []
        self._step = ""
        self._shape: tuple[FieldView, ...] = ()
        self._columns = 0

    def show_fields(self, step_id: str, fields: tuple[FieldView, ...]) -> None:
        """Show the fields of a step."""
        shape = tuple(
            replace(field, value="", hint="", choices=_shape_of(field), stack=None, photos=())
            for field in fields
        )
        if step_id != self._step or shape != self._shape:
            kept = {} if step_id != self._step else self._touched()
            self._step, self._shape = step_id, shape
            self._build(fields, kept)
            return
        for row, field in zip(self.rows, fields, strict=True):
            if row.field != field:
                row.update_field(field)
        self._narrow()

    @Slot()
    def _narrow(self) -> None:
        for row in (row for row in self.rows if row.field.narrowed_by):
            by = (other for other in self.rows if other.field.id == row.field.narrowed_by)
            row.narrow(next((other.value() for other in by), ""))
        ticked = {row.field.id for row in self.rows if row.value() == YES}
        absent = {
            row: bool(with_ := row.field.only_with) and with_ not in ticked for row in self.rows
        }
        if any(row.absent is not absent[row] for row in self.rows):
            for row in self.rows:
                row.absent = absent[row]
                row.setVisible(not row.absent)
            self._columns = 0
            self._arrange()

    def _present(self) -> list[FieldRow]:
        """Return the rows that are shown."""
        return [row for row in self.rows if not row.absent]

    def _touched(self) -> dict[tuple[str, FieldKind], str]:
        return {(r.field.id, r.field.kind): r.value() for r in self.rows if r.touched}

    def _build(self, fields: tuple[FieldView, ...], kept: dict[tuple[str, FieldKind], str]) -> None:
        keyboard = self.window().focusWidget()
        focused = next((r.field.id for r in self.rows if _holds(r.editor, keyboard)), None)
        old, self.rows = (
            self.rows,
            [FieldRow(field, self, buttons_up_to=self._buttons_up_to) for field in fields],
        )
        for row in self.rows:
            row.editor.finished.connect(self._on_finished)
            row.edited.connect(self.edited)
            row.touched_now.connect(self.changed)
            if isinstance(row.editor, StackField):
                row.editor.started.connect(self._on_started)
                row.editor.backed.connect(self._on_backed)
            if isinstance(row.editor, TextField):
                row.editor.textEdited.connect(self.typed)
            if isinstance(row.editor, PhotoField):
                row.editor.added.connect(self._on_added)
            if isinstance(row.editor, TextField | Choices):
                row.editor.left.connect(self.left)
            if isinstance(row.editor, ChoiceButtons):
                row.editor.pointed.connect(self._on_pointed)
            if isinstance(row.editor, Choices) and not row.field.narrowed_by:
                row.editor.currentIndexChanged.connect(self._narrow)
            if any(other.field.only_with == row.field.id for other in self.rows):
                row.edited.connect(self._narrow)
            if (text := kept.get((row.field.id, row.field.kind))) is not None:
                row.put(text)
                row.touched = True
        self._narrow()
        self._columns = 0
        self._arrange()
        for row in self.rows:
            # A hidden editor could not take the keyboard yet.
            row.setVisible(not row.absent)
            if row.field.id == focused:
                row.editor.setFocus()
        for row in old:
            row.hide()
            self._grid.removeWidget(row)
            row.deleteLater()

    def _arrange(self) -> None:
        wide = self.width() >= TWO_COLUMNS_FROM_PX and len(self.rows) > 2
        columns = self._fixed or (2 if wide else 1)
        if columns == self._columns:
            return
        self._columns = columns
        for row in self.rows:
            self._grid.removeWidget(row)
        line, column = 0, 0
        for row in self._present():
            span = columns if row.field.kind in WIDE else 1
            if column + span > columns:
                line, column = line + 1, 0
            self._grid.addWidget(row, line, column, 1, span)
            column += span
        for count in range(max(2, columns)):
            self._grid.setColumnStretch(count, 1 if count < columns else 0)

    def resizeEvent(self, event: object) -> None:
        """Use two columns when there is room."""
        self._arrange()

    def lead_to(self, buttons: Sequence[QWidget]) -> None:
        """Lead Tab from the last field to these: a new field comes last in the window."""
        rows = self._present()
        if not rows or rows[-1].editor.focusProxy() is not None:
            return
        before: QWidget = rows[-1].editor
        for button in buttons:
            self.setTabOrder(before, button)
            before = button

    def focus_first(self) -> None:
        """Put the keyboard into the first field that is still empty."""
        if rows := self._present():
            first = next((row for row in rows if not row.value()), rows[0])
            first.editor.setFocus(Qt.FocusReason.OtherFocusReason)

    def go_back(self, field: str = "") -> None:
        """Focus the field that a refusal names, else the first that was passed over.

        The name may be one inside another table, such as ``calibration.u``.
        """
        rows = self._present()
        named = next((row for row in rows if row.field.id == field.rpartition(".")[2]), None)
        if named is not None:
            named.editor.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        keyboard = self.window().focusWidget()
        editors = [row.editor for row in rows]
        at = next((n for n, e in enumerate(editors) if _holds(e, keyboard)), 0)
        passed = next((row for row in rows[:at] if not row.value()), None)
        if passed is not None:
            passed.editor.setFocus(Qt.FocusReason.OtherFocusReason)

    def show_error(self, field: str, words: str) -> bool:
        """Tell at a field what is wrong with it, and at no other; say whether it is here.

        The name may be one inside another table, such as ``calibration.u``.
        """
        named = field.rpartition(".")[2]
        for row in self.rows:
            row.show_error(words if row.field.id == named else "")
        return any(row.field.id == named for row in self.rows)

    def show_wrong(self, wrong: Mapping[str, str]) -> None:
        """Tell at each field what is wrong with what was typed there so far."""
        for row in self.rows:
            row.show_wrong(wrong.get(row.field.id, ""))

    @property
    def step_id(self) -> str:
        """Return what the form belongs to."""
        return self._step

    def judged_values(self) -> dict[str, str]:
        """Return what may be judged while it is typed: all but PINs and badges."""
        return {r.field.id: r.value() for r in self.rows if r.field.kind is not FieldKind.PIN}

    def go_on(self) -> None:
        """Focus the first open choice after a look-up; else Enter does the primary action."""
        rows = self._present()
        open_choices = [r for r in rows if r.field.kind is FieldKind.CHOICE and not r.value()]
        if open_choices:
            open_choices[0].editor.setFocus(Qt.FocusReason.OtherFocusReason)
        elif rows:
            rows[-1].editor.setFocus(Qt.FocusReason.OtherFocusReason)

    def has(self, field: str) -> bool:
        """Return True when there is a field of this id to type into."""
        return any(row.field.id == field for row in self.rows)

    def put_scan(self, field: str, text: str) -> None:
        """Put what was scanned into a field, as if it had been typed, and go on to the next."""
        for row in self.rows:
            if row.field.id == field:
                row.put(text)
                row.touched = True
                self.focus_first()

    def wants_scan(self) -> bool:
        """Return True when a scan chooses something here."""
        return any(row.field.scanned for row in self.rows)

    def choose_scanned(self, text: str) -> bool:
        """Choose what was scanned where it is offered, first where nothing is chosen yet.

        Returns False when no field offers it.
        """
        scan = text.strip().casefold()
        found = [
            (row, value)
            for row in self.rows
            if row.field.scanned
            for value, _ in row.field.choices
            if value.casefold() == scan
        ]
        if not found:
            return False
        row, value = next(((r, v) for r, v in found if not r.value()), found[0])
        row.put(value)
        row.touched = True
        self.focus_first()
        return True

    def touched(self) -> bool:
        """Return True when somebody has typed or chosen something here."""
        return any(row.touched and row.value() for row in self.rows)

    def clear_secrets(self) -> None:
        """Forget every PIN: it is typed anew each time."""
        for row in self.rows:
            if row.field.kind is FieldKind.PIN:
                row.put("")

    def values(self) -> dict[str, str]:
        """Return what goes back, by field id."""
        return {row.field.id: row.value() for row in self.rows}

    @Slot()
    def _on_started(self) -> None:
        """Go on from a stack that was started, but never past the last field: Enter signs there."""
        self._go(1)

    @Slot()
    def _on_backed(self) -> None:
        self._go(-1)

    @Slot()
    def _on_added(self) -> None:
        """Forget the words of the picture that is on record now."""
        for row in self.rows:
            if row.field.kind is FieldKind.TEXT:
                row.put("")
                row.touched = False

    def _go(self, by: int) -> None:
        """Put the keyboard into the field before or after the one that says so, if there is one."""
        editors = [row.editor for row in self._present()]
        place = next((n for n, editor in enumerate(editors) if editor is self.sender()), -1)
        if place >= 0 and 0 <= place + by < len(editors):
            editors[place + by].setFocus(Qt.FocusReason.TabFocusReason)

    @Slot()
    def _on_pointed(self) -> None:
        """Put the keyboard into the PIN that follows a name: it is typed next."""
        rows = self._present()
        for before, after in pairwise(rows):
            pin = after.field.kind is FieldKind.PIN and not after.value()
            if before.editor is self.sender() and pin:
                after.editor.setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot()
    def _on_finished(self) -> None:
        rows = self._present()
        editors = [row.editor for row in rows]
        place = next((n for n, editor in enumerate(editors) if editor is self.sender()), -1)
        if place >= 0 and (action := rows[place].field.looks_up):
            for row in self.rows:
                # What is looked up takes the place of what was looked up or typed before.
                row.touched = row.touched and row is rows[place]
            self.asked.emit(action)
            return
        if 0 <= place < len(editors) - 1:
            editors[place + 1].setFocus(Qt.FocusReason.TabFocusReason)
        elif place >= 0:
            self.submitted.emit()
