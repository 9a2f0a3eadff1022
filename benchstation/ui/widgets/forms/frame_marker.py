"""Frames as they were heard, to choose characters in, below a ruler of what is marked."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent, QTextCursor
from PySide6.QtWidgets import QPlainTextEdit, QWidget

from benchstation.screens.model.onboarding import FrameLine, FramesView
from benchstation.ui.shell.labels import set_role
from benchstation.ui.widgets.forms.fields import ENTER, belongs_to_page

LEAST_LINES = 5
GAP = "   "
MARK = {True: "fits", False: "no"}
"""Words, since a colour alone says nothing to some."""


class FrameMarker(QPlainTextEdit):
    """A ruler, then a frame a line with what comes of it. Nothing can be typed in it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "frames")
        self.setReadOnly(True)
        self.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse
            | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        self.setTabChangesFocus(True)
        self.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.NoContextMenu)
        self.setAccessibleName("frames, a line each, below a ruler of what is marked")
        self._shown: FramesView | None = None

    def show_frames(self, view: FramesView | None) -> None:
        """Show these frames; what is chosen stays while the frames stay."""
        if view is None or view == self._shown:
            self._shown = view
            return
        chosen = self.textCursor()
        same = self._shown is not None and _texts(self._shown) == _texts(view)
        ends = chosen.anchor(), chosen.position()
        self._shown = view
        width = max(len(view.ruler), *(len(line.text) for line in view.lines))
        lines = [view.ruler, *(_line(line, width) for line in view.lines)]
        self.setPlainText("\n".join(lines))
        if same:
            chosen = self.textCursor()
            chosen.setPosition(ends[0])
            chosen.setPosition(ends[1], QTextCursor.MoveMode.KeepAnchor)
            self.setTextCursor(chosen)
        metrics = QFontMetrics(self._font())
        self.setMinimumHeight(metrics.lineSpacing() * (min(len(lines), LEAST_LINES) + 1))

    def _font(self) -> QFont:
        self.ensurePolished()
        return self.font()

    def chosen(self) -> dict[str, str]:
        """Return the frame and the columns that are chosen; empty where nothing of a frame is."""
        cursor, view = self.textCursor(), self._shown
        if view is None or not cursor.hasSelection():
            return {}
        document = self.document()
        block = document.findBlock(cursor.selectionStart())
        number = block.blockNumber() - 1
        if not 0 <= number < len(view.lines):
            return {}
        length = len(view.lines[number].text)
        start = cursor.selectionStart() - block.position()
        end = min(cursor.selectionEnd() - block.position(), length)
        return {"frame": view.lines[number].key, "from": str(start), "to": str(end)}

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Choose by Shift and arrows; the page's keys go to the page."""
        alt = bool(event.modifiers() & Qt.KeyboardModifier.AltModifier)
        if event.key() in (*ENTER, Qt.Key.Key_Escape) or alt or belongs_to_page(event):
            event.ignore()
        else:
            super().keyPressEvent(event)


def _texts(view: FramesView) -> list[str]:
    return [line.text for line in view.lines]


def _line(line: FrameLine, width: int) -> str:
    words = f"{MARK[line.fits]}: {line.words}" if line.words else ""
    return f"{line.text:<{width}}{GAP}{words}".rstrip()
