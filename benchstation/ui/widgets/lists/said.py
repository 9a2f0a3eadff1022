"""Short sentences under a small heading, each with its mark where it is no plain one."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import Words, label, set_role
from benchstation.ui.widgets.readout.mark import Mark

MARK_PX = 15
UNMARKED = (Tone.PLAIN, Tone.QUIET)
Line = tuple[str, Tone]


class Said(QWidget):
    """Sentences that wrap, however long; hidden while there are none."""

    def __init__(self, heading: str = "", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self.shown: tuple[Line, ...] = ()
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(6)
        self._grid.setVerticalSpacing(1)
        self._grid.setColumnStretch(1, 1)
        if heading:
            self._grid.addWidget(label(heading, "small"), 0, 0, 1, 2)
        self.marks: list[Mark] = []
        self.words: list[Words] = []

    def show_lines(self, lines: tuple[Line, ...]) -> None:
        """Show these sentences."""
        self.shown = lines
        self.setVisible(bool(lines))
        while len(self.words) < len(lines):
            self._add()
        for count, (mark, words) in enumerate(zip(self.marks, self.words, strict=True)):
            there = count < len(lines)
            text, tone = lines[count] if there else ("", Tone.PLAIN)
            marked = tone not in UNMARKED
            mark.set_tone(tone)
            mark.setVisible(there and marked)
            # A plain sentence begins at the edge; a marked one beside its mark.
            self._grid.removeWidget(words)
            self._grid.addWidget(words, count + 1, int(marked), 1, 2 - int(marked))
            set_role(words, "small" if tone is Tone.QUIET else "said")
            words.setText(text)
            words.setVisible(there)

    def _add(self) -> None:
        row = len(self.words) + 1
        self.marks.append(Mark(MARK_PX))
        self.words.append(label("", "said", wrap=True))
        self._grid.addWidget(self.marks[-1], row, 0, Qt.AlignmentFlag.AlignTop)
        self._grid.addWidget(self.words[-1], row, 0, 1, 2)
