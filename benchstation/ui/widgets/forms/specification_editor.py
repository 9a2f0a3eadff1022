"""A specification's text while it is written: checked when the typing stops, never lost."""

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QKeyEvent, QTextCursor
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPlainTextEdit, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import down
from benchstation.ui.shell.notice import Notice
from benchstation.ui.widgets.forms.fields import EDITING, belongs_to_page

CHECK_AFTER_MS, MOST_WORDS = 300, 600
UNDO = EDITING | {"Y"}
CHECKING, NOTHING_WRONG, WRONG = "is being checked…", "checked: nothing wrong", "checked"


class TextArea(QPlainTextEdit):
    """The text; Tab leaves it, and keys that are not of writing are the page's."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName("text of the specification")
        self.setTabChangesFocus(True)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Write, or pass the key on."""
        if belongs_to_page(event, UNDO):
            event.ignore()
        else:
            super().keyPressEvent(event)

    def words(self) -> str:
        """Return the text exactly: Qt's own plain text would make every no-break space a space."""
        return self.document().toRawText().replace("\u2029", "\n")


class SpecificationEditor(QFrame):
    """Problems in words, the text, and where the cursor is."""

    paused = Signal()
    """The typing stopped."""
    typed = Signal()
    """The text is another."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        box = down(self, (14, 12, 14, 10), 8)
        self.title = label("Text of the draft", "title")
        self.problems = Notice()
        self.area = TextArea()
        self.place = label("", "small")
        self.checked = label("", "small", wrap=True)
        self.checked.setAlignment(Qt.AlignmentFlag.AlignRight)
        box.addWidget(self.title)
        box.addWidget(self.problems)
        box.addWidget(self.area, 1)
        status_bar = QHBoxLayout()
        status_bar.addWidget(self.place, 1)
        status_bar.addWidget(self.checked, 2)
        box.addLayout(status_bar)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(CHECK_AFTER_MS)
        self._timer.timeout.connect(self.paused)
        self._last = ""
        self.area.textChanged.connect(self._on_changed)
        self.area.cursorPositionChanged.connect(self._say_place)

    @property
    def text(self) -> str:
        """Return the text as it stands."""
        return self.area.words()

    @property
    def kept_words(self) -> str:
        """Return the text when someone has written in it since it began, else nothing."""
        return self.text if self.area.document().isModified() else ""

    def begin(self, text: str) -> None:
        """Write on from a text. One that someone has written in comes back by undoing this."""
        if self.kept_words:
            cursor = QTextCursor(self.area.document())
            cursor.select(QTextCursor.SelectionType.Document)
            cursor.insertText(text)
        else:
            self.area.setPlainText(text)
        self.area.moveCursor(QTextCursor.MoveOperation.Start)
        self._timer.stop()
        self._last = self.text
        self._say_place()

    def replace(self, text: str) -> None:
        """Change the text as a form does: it can be undone, and is not written yet by hand."""
        if text == self.text:
            return
        self._last = text
        cursor = QTextCursor(self.area.document())
        cursor.select(QTextCursor.SelectionType.Document)
        cursor.insertText(text)
        self.show_checking()
        self.typed.emit()

    def mark_unkept(self) -> None:
        """Count the text as written by someone, though it came from a file."""
        self.area.document().setModified(True)

    def forget(self) -> None:
        """Forget the text: it is saved elsewhere."""
        self._last = ""
        self.area.setPlainText("")
        self._timer.stop()

    def show_checking(self) -> None:
        """Show that the text has not been checked yet."""
        self.checked.setText(CHECKING)

    def show_problems(self, problems: tuple[str, ...]) -> None:
        """Show what is wrong with the text."""
        words = "\n".join(problems)
        more = f"{words[:MOST_WORDS]} … and more" if len(words) > MOST_WORDS else words
        self.problems.show_words(more, Tone.CAUTION)
        self.checked.setText(WRONG if problems else NOTHING_WRONG)

    @Slot()
    def _on_changed(self) -> None:
        # Qt also tells of changes that are none, such as another font.
        if self.text == self._last:
            return
        self._last = self.text
        self.show_checking()
        self._timer.start()
        self.typed.emit()

    @Slot()
    def _say_place(self) -> None:
        cursor = self.area.textCursor()
        self.place.setText(f"line {cursor.blockNumber() + 1}, column {cursor.columnNumber() + 1}")
