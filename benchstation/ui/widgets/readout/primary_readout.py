"""The number with the words beside it, and lines with the mark of their meaning."""

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import BigNumber, Tone
from benchstation.ui.shell.labels import FitLabel, fitting_px, label, set_role, set_tone, sized
from benchstation.ui.shell.layouts import across, down
from benchstation.ui.shell.text_scale import percent, px
from benchstation.ui.shell.theme import DIGIT_HEIGHT_PX
from benchstation.ui.widgets.readout.big_number import BigNumberView
from benchstation.ui.widgets.readout.grid import (
    CAPTION_GAP_PX,
    CAPTION_PX,
    WORDS_GAP_PX,
    Grid,
)
from benchstation.ui.widgets.readout.mark import Mark

LINE_GAP_PX = 5
FIRST, FIRST_SIZES = "first", (30, 26, 23, 20, 17, 14)
DROP_PX = 7
OTHER, OTHER_SIZES = "other", (19, 17)
FIRST_SMALL, OTHER_SMALL = (17, 14), (14, 13)
LEVELS = (
    (FIRST_SIZES, OTHER_SIZES),
    (FIRST_SMALL, OTHER_SMALL),
    ((13,), (12,)),
    ((12,), (11,)),
    ((11,), (11,)),
    ((10,), (10,)),
    ((9,), (9,)),
)
"""Sizes of the first words and the others, from where there is room down to where there is none."""
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
        row = across(self, spacing=9)
        row.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        for part in (self.large, self.other, self.words):
            row.addWidget(part, 1)

    def set_sizes(self, level: int) -> None:
        """Choose from the sizes of a level: the smaller ones where there is little height."""
        first, other = LEVELS[level]
        self.large.set_sizes(first)
        self.other.set_sizes(other)

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
        self._box = down(self)
        self._box.setSpacing(LINE_GAP_PX)
        self.lines: list[MarkedLine] = []
        self._shown: tuple[tuple[str, Tone, str], ...] = ()
        self._level = 0

    def show_lines(self, lines: tuple[tuple[str, Tone, str], ...], *, level: int = 0) -> None:
        """Show (words, meaning, role) lines."""
        if (lines, level) == (self._shown, self._level):
            return
        self._shown, self._level = lines, level
        while len(self.lines) < len(lines):
            self.lines.append(MarkedLine(parent=self))
            self._box.addWidget(self.lines[-1])
        for count, widget in enumerate(self.lines):
            if count < len(lines):
                widget.set_sizes(level)
                widget.show_line(*lines[count])
            widget.setVisible(count < len(lines))


class PrimaryReadout(QWidget):
    """The number that matters, and what to do about it: beside it, or below where it is narrow."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._words: tuple[Line, ...] = ()
        self._grid: Grid | None = None
        self._chosen_for: tuple[object, ...] = ()
        self._choice = (0, 0)
        self.big = BigNumberView(self)
        self.lines = MarkedLines(self)

    def show_hero(self, big: BigNumber | None, lines: tuple[Line, ...]) -> None:
        """Show number and words; hidden without a number."""
        self.big.show_number(big)
        self.setVisible(big is not None)
        if big is None:
            return
        self._words = lines
        self._fit()

    def set_grid(self, grid: Grid) -> None:
        """Take the places of the grid."""
        self._grid = grid
        self.big.fit(grid.digit)
        self._fit()

    def number_only(self, high: int) -> None:
        """Take this height, for the number alone."""
        digit = max(48.0, high - px(CAPTION_PX) - 2.0 * CAPTION_GAP_PX)
        self.big.fit(min(digit, float(DIGIT_HEIGHT_PX)))
        self.setFixedHeight(self.big.height())

    def resizeEvent(self, event: object) -> None:
        """Fit the words to the new room."""
        self._fit()

    def rescale(self) -> None:
        """Fit the words to the text size in force."""
        self._fit()

    def _fit(self) -> None:
        """Put the words into their place: smaller where they are long, fewer where they must."""
        self.big.move(0, 0)
        if self._grid is None or self._grid.beside:
            left = self.big.width() + WORDS_GAP_PX
            box = QRect(left, 0, max(60, self.width() - left), self.height())
        else:
            top = self.big.height()
            box = QRect(0, top, self.width(), max(1, self.height() - top))
        count, level = self._chosen(box.width(), box.height())
        self.lines.show_lines(weighted(self._words[:count]), level=level)
        high = min(box.height(), self._lines_height(count, box.width(), level))
        # From the top: words that come and go leave the first where it is.
        self.lines.setGeometry(box.left(), box.top(), box.width(), max(1, high))

    def _chosen(self, width: int, height: int) -> tuple[int, int]:
        """Return how many of the words stand whole in this room, and at which level of sizes.

        They get smaller first, then fewer; the first is never left out.
        """
        key = (self._words, width, height, percent())
        if key != self._chosen_for:
            self._chosen_for, self._choice = key, self._choose(width, height)
        return self._choice

    def _choose(self, width: int, height: int) -> tuple[int, int]:
        for count in range(len(self._words), 1, -1):
            for level in (0, 1):
                if self._lines_height(count, width, level) <= height:
                    return count, level
        one = min(1, len(self._words))
        fitting = (n for n in range(len(LEVELS)) if self._lines_height(one, width, n) <= height)
        return one, next(fitting, len(LEVELS) - 1)

    def _lines_height(self, count: int, width: int, level: int) -> int:
        """Return the height of the first words in this width, with their gaps."""
        first, other = LEVELS[level]
        high = LINE_GAP_PX * max(0, count - 1)
        for place, (text, tone) in enumerate(self._words[:count]):
            room = width - (0 if tone in (Tone.PLAIN, Tone.QUIET) else px(22) + 9)
            sizes, bold = (other, False) if place else (first, True)
            line = 17 if place else 23
            pixels = fitting_px(text, room, self.font(), sizes, bold=bold, one_line_from=line)
            metrics = QFontMetrics(sized(self.font(), pixels, bold=bold))
            wrap = int(Qt.TextFlag.TextWordWrap)
            words = metrics.boundingRect(0, 0, room, 10_000, wrap, text).height() + 1
            marked = 0 if tone in (Tone.PLAIN, Tone.QUIET) else px(22) + px(1 if place else DROP_PX)
            high += max(words, marked)
        return high


def weighted(lines: tuple[Line, ...]) -> tuple[tuple[str, Tone, str], ...]:
    """Return the first line the most weight, the others less."""
    return tuple(
        (text, tone, OTHER if count else FIRST) for count, (text, tone) in enumerate(lines)
    )
