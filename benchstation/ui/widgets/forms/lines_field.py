"""A field of several lines. Enter makes a new line; Tab goes on, Esc leaves."""

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QPlainTextEdit, QWidget

from benchstation.ui.shell.labels import set_role
from benchstation.ui.shell.theme import TARGET_PX
from benchstation.ui.widgets.forms.fields import EDITING, ENTER, belongs_to_page

UNDO = EDITING | {"Y"}
LINES_PX = 2 * TARGET_PX


class LinesField(QPlainTextEdit):
    """Some lines of text."""

    finished = Signal()
    """Ctrl+Enter was pressed."""
    written = Signal()
    """A person changed the text."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "lines")
        self.setTabChangesFocus(True)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.NoContextMenu)
        self.setFixedHeight(LINES_PX)
        self._setting = False
        self.textChanged.connect(self._on_changed)

    @Slot()
    def _on_changed(self) -> None:
        if not self._setting:
            self.written.emit()

    def text(self) -> str:
        """Return the text exactly: Qt's own plain text would make every no-break space a space."""
        return self.document().toRawText().replace("\u2029", "\n")

    def setText(self, text: str) -> None:
        """Set the text."""
        self._setting = True
        self.setPlainText(text)
        self._setting = False

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Write, or pass the key on."""
        if event.key() == Qt.Key.Key_Escape:
            self.clearFocus()
        elif event.key() in ENTER and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            if not event.isAutoRepeat():
                self.finished.emit()
        elif belongs_to_page(event, UNDO):
            event.ignore()
        else:
            super().keyPressEvent(event)
