"""One figure of a specification in a form: label, field, unit, what it is, and what is wrong."""

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QLabel, QWidget

from benchstation.screens.model.elements import ActionView, Tone
from benchstation.screens.model.specifications import YES, SheetField, SheetKind
from benchstation.ui.shell.labels import label, set_property, set_role, set_tone
from benchstation.ui.shell.layouts import across, down
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import FINE_TARGET_PX
from benchstation.ui.widgets.forms.fields import ENTER, CheckField, ChoiceField, TextField
from benchstation.ui.widgets.readout.action_button import ActionButton

FIELD_PX, UNIT_PX, CONFIRM_PX, LONG_TEXT = 132, 58, 84, 46
SHORT = (SheetKind.QUANTITY, SheetKind.NUMBER)
EXAMPLE_SIGN = "◆"
Editor = TextField | ChoiceField | CheckField


class SheetText(TextField):
    """A line of text that tells when the keyboard comes and goes."""

    entered = Signal()
    gone = Signal()

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Tell that the keyboard is here."""
        super().focusInEvent(event)
        self.entered.emit()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Tell that the keyboard left."""
        super().focusOutEvent(event)
        self.gone.emit()


class FormButton(ActionButton):
    """A button of a form: Enter presses it, as Space does."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(quiet=True, parent=parent)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Press it by Enter."""
        if event.key() in ENTER:
            if not event.isAutoRepeat():
                self.click()
            return
        super().keyPressEvent(event)


def small_button(words: str, name: str, width: int = FINE_TARGET_PX) -> FormButton:
    """Return a button that stands beside a field."""
    button = FormButton()
    button.show_action(ActionView(name, words, ""))
    button.setAccessibleName(name)
    button.setFixedWidth(width)
    return button


class SheetRow(QWidget):
    """One figure. ``compact``: the field alone, as one of several of an entry."""

    typed = Signal()
    """Somebody is typing."""
    settled = Signal()
    """What was typed stands: the field was left, or a choice made."""
    finished = Signal()
    """Enter: the next field is wanted."""
    confirmed = Signal()
    """It is right as it stands in the example."""
    taken = Signal()
    """What the other figures give is to stand here."""
    entered = Signal()

    def __init__(
        self, field: SheetField, *, compact: bool = False, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self.field = field
        self.pending = False
        """Something was typed that the text does not say yet."""
        self.editor = self._make(field)
        self.name = label("", "strong", wrap=True)
        self.says = label(field.says, "small", wrap=True)
        self.unit = label(field.unit, "small")
        self.whole = label("", "quiet", wrap=True)
        self.follows = label("", "small", wrap=True)
        self.problem = label("", "", wrap=True)
        set_tone(self.problem, Tone.CAUTION)
        self.confirm = small_button("Right", "right as it stands in the example", CONFIRM_PX)
        self.take = small_button("Take it", "take what the other figures give", CONFIRM_PX)
        self.confirm.clicked.connect(self.confirmed)
        self.take.clicked.connect(self.taken)
        self._lay_out(compact)
        self._show(field)
        self._put(field.value)

    def _make(self, field: SheetField) -> Editor:
        if field.kind is SheetKind.CHECK:
            check = CheckField(field.label)
            check.clicked.connect(self._on_chosen)
            check.finished.connect(self.finished)
            return check
        if field.kind is SheetKind.CHOICE:
            choice = ChoiceField(field.choices)
            choice.activated.connect(self._on_chosen)
            choice.finished.connect(self.finished)
            return choice
        text = SheetText()
        set_role(text, "figure")
        text.setPlaceholderText(field.usual)
        text.textEdited.connect(self._on_typed)
        text.finished.connect(self._on_finished)
        text.gone.connect(self._on_gone)
        text.entered.connect(self.entered)
        return text

    def _lay_out(self, compact: bool) -> None:
        box = down(self, spacing=2)
        row = across(spacing=6)
        self.editor.setAccessibleName(self.field.label or "line")
        self.editor.setAccessibleDescription(self.field.says)
        wide = self.field.kind not in SHORT
        if compact:
            row.addWidget(self.editor, 1)
            for part in (self.name, self.says, self.whole, self.unit):
                part.setParent(None)
        elif wide:
            if not isinstance(self.editor, CheckField):
                box.addWidget(self.name)
            row.addWidget(self.editor, 1)
        else:
            words = down(spacing=0)
            words.addWidget(self.name)
            words.addWidget(self.says)
            row.addLayout(words, 1)
            self.editor.setFixedWidth(px(FIELD_PX))
            row.addWidget(self.editor, 0, Qt.AlignmentFlag.AlignTop)
            self.unit.setFixedWidth(UNIT_PX)
            row.addWidget(self.unit)
        row.addWidget(self.confirm, 0, Qt.AlignmentFlag.AlignTop)
        box.addLayout(row)
        if wide and not compact:
            box.addWidget(self.says)
            box.addWidget(self.whole)
        below = across(spacing=6)
        below.addWidget(self.follows, 1)
        below.addWidget(self.take)
        box.addLayout(below)
        box.addWidget(self.problem)

    def keep_room(self) -> None:
        """Keep the place of the confirming button, so that fields of one part stand in line."""
        policy = self.confirm.sizePolicy()
        policy.setRetainSizeWhenHidden(True)
        self.confirm.setSizePolicy(policy)

    # --- what goes in and out --------------------------------------------------------------------

    def text(self) -> str:
        """Return what stands in the field."""
        if isinstance(self.editor, CheckField):
            return YES if self.editor.isChecked() else ""
        if isinstance(self.editor, ChoiceField):
            return str(self.editor.currentData() or "")
        return self.editor.text()

    def _put(self, value: str) -> None:
        if isinstance(self.editor, CheckField):
            self.editor.setChecked(value == YES)
        elif isinstance(self.editor, ChoiceField):
            self.editor.setCurrentIndex(self.editor.findData(value))
        elif self.editor.text() != value:
            self.editor.setText(value)
            self.editor.setCursorPosition(0)

    def update_field(self, field: SheetField) -> None:
        """Take what the text says now, unless somebody types here."""
        busy = self.pending or (isinstance(self.editor, SheetText) and self.editor.hasFocus())
        changed = field.value != self.field.value
        self.field = field
        self._show(field)
        if changed and not busy:
            self._put(field.value)

    def take_over(self, old: "SheetRow") -> None:
        """Go on where the keyboard was in a row that is made anew: text, cursor and all."""
        if isinstance(self.editor, SheetText) and isinstance(old.editor, SheetText):
            self.editor.setText(old.editor.text())
            self.editor.setCursorPosition(old.editor.cursorPosition())
            self.pending = old.pending
        self.editor.setFocus(Qt.FocusReason.OtherFocusReason)

    def settle(self) -> None:
        """Show the value as it stands in the text: with its unit."""
        if not self.pending:
            self._put(self.field.value)

    def _show(self, field: SheetField) -> None:
        self.name.setText(f"{EXAMPLE_SIGN} {field.label}" if field.example else field.label)
        self.confirm.setVisible(bool(field.example))
        long = field.kind is SheetKind.TEXT and len(field.value) > LONG_TEXT
        self.whole.setText(field.value if long else "")
        self.whole.setVisible(long)
        self.says.setVisible(bool(field.says) and not long)
        other = field.shown if field.unit and field.si is not None and self._is_other() else ""
        said = "; ".join(words for words in (other and f"= {other}", field.follows) if words)
        self.follows.setText(said)
        self.follows.setVisible(bool(said))
        self.take.setVisible(bool(field.take) and bool(field.problem))
        self.problem.setText(field.problem)
        self.problem.setVisible(bool(field.problem))
        set_property(self.editor, "fault", "yes" if field.problem else "")

    def _is_other(self) -> bool:
        """Return True when the value was written in another unit than the one that is shown."""
        value = self.field.value.replace(" ", "").casefold()
        unit = self.field.unit.replace(" ", "").casefold()
        same = (unit, unit.replace("°", "deg"))
        return bool(value) and not value.endswith(same)

    @Slot()
    def _on_typed(self) -> None:
        self.pending = True
        self.typed.emit()

    @Slot()
    def _on_chosen(self) -> None:
        self.pending = True
        self.settled.emit()

    @Slot()
    def _on_gone(self) -> None:
        if self.pending:
            self.settled.emit()
        else:
            self.settle()

    @Slot()
    def _on_finished(self) -> None:
        """Keep what was typed; Enter on a figure of the example confirms it."""
        if self.pending:
            self.settled.emit()
        elif self.field.example:
            self.confirmed.emit()
        self.finished.emit()


def head(words: str) -> QLabel:
    """Return the title of a part within a form."""
    return label(words, "title", wrap=True)
