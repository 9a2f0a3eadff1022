"""A set side by side: a column for each unit, then how far apart they are and what that means."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.screens.model.queue import SetRow, SetView
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.labels import frame, label, set_tone
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.widgets.readout.mark import Mark

LABEL_PX = 92
MARKED = "◀ "
"""Beside a figure that does not match; the word for it stands at the end of its row."""


class SetTable(QWidget):
    """One set. Made anew when another is shown: it changes only when a unit is filed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._box = down(self)
        self._inner: QWidget | None = None
        self.shown: SetView | None = None

    def show_set(self, view: SetView) -> None:
        """Show a set."""
        if view == self.shown:
            return
        self.shown = view
        self._build(view)

    def rescale(self) -> None:
        """Take on the text size that is in force."""
        if self.shown is not None:
            self._build(self.shown)

    def _build(self, view: SetView) -> None:
        if self._inner is not None:
            self._inner.hide()
            self._inner.deleteLater()
        self._inner = clear()
        self._box.addWidget(self._inner)
        grid = QGridLayout(self._inner)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(6)
        count = len(view.positions)
        grid.addWidget(label(view.title, "strong", wrap=True), 0, 0, 1, count + 2)
        for column in range(count):
            head = label(f"{view.positions[column]}\n{view.serials[column]}", "small", wrap=True)
            state = label(view.states[column], "small", wrap=True)
            for line, part in ((1, head), (2, state)):
                part.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
                grid.addWidget(part, line, column + 1)
        grid.addWidget(label("difference ± U", "small"), 1, count + 1)
        line = 3
        for row in view.rows:
            grid.addWidget(_rule(), line, 0, 1, count + 2)
            self._add_row(grid, line + 1, row, count)
            line += 2
        grid.addWidget(label(view.note, "small", wrap=True), line, 0, 1, count + 2)
        grid.setColumnStretch(0, 3)
        grid.setColumnMinimumWidth(0, text_scale.px(LABEL_PX))
        for column in range(count):
            grid.setColumnStretch(column + 1, 3)
        grid.setColumnStretch(count + 1, 4)

    def _add_row(self, grid: QGridLayout, line: int, row: SetRow, count: int) -> None:
        grid.addWidget(label(row.what, "quiet", wrap=True), line, 0)
        for column, cell in enumerate(row.cells[:count]):
            made = label(f"{MARKED if cell.marked else ''}{cell.text}", "", wrap=True)
            made.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
            if cell.marked:
                set_tone(made, row.tone)
            grid.addWidget(made, line, column + 1)
        grid.addWidget(_verdict(row), line, count + 1)


def _rule() -> QFrame:
    return frame("rule")


def _verdict(row: SetRow) -> QWidget:
    made = clear()
    made.setAccessibleName(f"{row.what}: {row.spread} {row.verdict}".strip())
    box = down(made, spacing=2)
    if row.spread:
        box.addWidget(label(row.spread, "", wrap=True))
    if row.verdict:
        line = QHBoxLayout()
        line.setSpacing(6)
        mark = Mark(18)
        mark.set_tone(row.tone)
        mark.setVisible(row.tone is not Tone.QUIET)
        word: QLabel = label(row.verdict, "strong")
        set_tone(word, row.tone)
        line.addWidget(mark)
        line.addWidget(word, 1)
        box.addLayout(line)
    box.addStretch(1)
    return made
