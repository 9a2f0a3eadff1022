"""The number with the words beside it, and lines with the mark of their meaning."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from benchstation.bench_view import BigNumber, Tone
from benchstation.ui.widgets.big_number import NO_LIMIT, BigNumberView
from benchstation.ui.widgets.labels import FitLabel, label, set_role, set_tone
from benchstation.ui.widgets.mark import Mark

COMFORT_PX, LINES_PX, GAP_PX = 270, 160, 14
ALL_LINES_PX = 150
FIRST, FIRST_SIZES = "first", (30, 26, 23, 20, 17, 14)
DROP_PX = 7
OTHER, OTHER_SIZES = "other", (19, 17)
Line = tuple[str, Tone]


class MarkedLine(QWidget):
    """Words with the mark of their meaning."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.mark = Mark(22)
        self.words = label("", "", wrap=True)
        self.large = FitLabel(FIRST_SIZES)
        self.other = FitLabel(OTHER_SIZES, bold=False, one_line_from=17)
        self._kinds = {FIRST: self.large, OTHER: self.other}
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(9)
        row.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        for part in (self.large, self.other, self.words):
            row.addWidget(part, 1)

    def show_line(self, text: str, tone: Tone, role: str) -> None:
        """Show words; a mark stands only beside those that mean something.

        The roles ``first`` and ``other`` fit their size to the room; any other is the sheet's.
        """
        shown = self._kinds.get(role, self.words)
        if isinstance(shown, FitLabel):
            shown.show_text(text)
        else:
            shown.setText(text)
            set_role(shown, role)
        set_tone(shown, tone)
        for part in (self.large, self.other, self.words):
            part.setVisible(part is shown)
        self.mark.set_drop(DROP_PX if role == FIRST else 1)
        self.mark.set_tone(tone)
        self.mark.setVisible(tone not in (Tone.PLAIN, Tone.QUIET))


class MarkedLines(QWidget):
    """Lines under each other."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._box = QVBoxLayout(self)
        self._box.setContentsMargins(0, 0, 0, 0)
        self._box.setSpacing(5)
        self.lines: list[MarkedLine] = []
        self._shown: tuple[tuple[str, Tone, str], ...] = ()

    def show_lines(self, lines: tuple[tuple[str, Tone, str], ...]) -> None:
        """Show (words, meaning, role) lines."""
        if lines == self._shown:
            return
        self._shown = lines
        while len(self.lines) < len(lines):
            self.lines.append(MarkedLine(parent=self))
            self._box.addWidget(self.lines[-1])
        for count, widget in enumerate(self.lines):
            if count < len(lines):
                widget.show_line(*lines[count])
            widget.setVisible(count < len(lines))


class Hero(QWidget):
    """The number that matters, and at its right what to do about it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 4, 0, 0)
        row.setSpacing(GAP_PX)
        self._most_height = NO_LIMIT
        self._lines: tuple[Line, ...] = ()
        self.big = BigNumberView()
        self.lines = MarkedLines()
        row.addWidget(self.big, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.lines, 1, Qt.AlignmentFlag.AlignVCenter)

    def show_hero(self, big: BigNumber | None, lines: tuple[Line, ...]) -> None:
        """Show number and words; hidden without a number."""
        self.setVisible(big is not None)
        if big is None:
            return
        self.big.show_number(big)
        self._lines = lines
        self._show_lines()
        self.fit(self.width())

    def _show_lines(self) -> None:
        some = self._lines if self._most_height >= ALL_LINES_PX else self._lines[:1]
        self.lines.show_lines(weighted(some))

    def limit(self, most_height: int) -> None:
        """Say how high it may be, and fit it."""
        if most_height != self._most_height:
            self._most_height = most_height
            self._show_lines()
            self.fit(self.width())

    def fit(self, width: int) -> None:
        """Size the number for this width, which may be known before it is taken."""
        room = width - GAP_PX
        high = self.window().height()
        self.big.fit(room - COMFORT_PX, max(120, room - LINES_PX), high, self._most_height)

    def resizeEvent(self, event: object) -> None:
        """Fit the number to the new room."""
        self.fit(self.width())


def weighted(lines: tuple[Line, ...]) -> tuple[tuple[str, Tone, str], ...]:
    """Give the first line the most weight, the others less."""
    return tuple(
        (text, tone, OTHER if count else FIRST) for count, (text, tone) in enumerate(lines)
    )
