"""Words that stand above what they are about, with mark and wash; nothing when there are none."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import label, set_wash
from benchstation.ui.shell.layouts import across
from benchstation.ui.widgets.readout.mark import Mark


class Notice(QFrame):
    """One notice."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.mark = Mark(22)
        self.words = label("", "", wrap=True)
        row = across(self, (10, 6, 10, 6), 10)
        row.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.words, 1)
        self.hide()

    def show_words(self, words: str, tone: Tone) -> None:
        """Show these words; none hides it."""
        self.words.setText(words)
        self.mark.set_tone(tone)
        set_wash(self, tone)
        self.setAccessibleName(words)
        self.setVisible(bool(words))
