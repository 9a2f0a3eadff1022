"""The number with the words beside it, and lines with the mark of their meaning."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import BigNumber, Tone
from benchstation.ui.shell.labels import FitLabel, fitting_px, label, set_role, set_tone, sized
from benchstation.ui.shell.layouts import across, down
from benchstation.ui.shell.text_scale import percent, px
from benchstation.ui.widgets.readout.big_number import NO_LIMIT, BigNumberView, Plan
from benchstation.ui.widgets.readout.mark import Mark

COMFORT_PX, LINES_PX, GAP_PX, LINE_GAP_PX, TOP_PX = 270, 160, 14, 5, 4
ALL_LINES_PX = 150
FIRST, FIRST_SIZES = "first", (30, 26, 23, 20, 17, 14)
DROP_PX = 7
OTHER, OTHER_SIZES = "other", (19, 17)
FIRST_SMALL, OTHER_SMALL = (17, 14), (14, 13)
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

    def set_sizes(self, small: bool) -> None:
        """Choose from all sizes, or from the smaller ones where there is little height."""
        self.large.set_sizes(FIRST_SMALL if small else FIRST_SIZES)
        self.other.set_sizes(OTHER_SMALL if small else OTHER_SIZES)

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
        self._small = False

    def show_lines(self, lines: tuple[tuple[str, Tone, str], ...], *, small: bool = False) -> None:
        """Show (words, meaning, role) lines."""
        if (lines, small) == (self._shown, self._small):
            return
        self._shown, self._small = lines, small
        while len(self.lines) < len(lines):
            self.lines.append(MarkedLine(parent=self))
            self._box.addWidget(self.lines[-1])
        for count, widget in enumerate(self.lines):
            if count < len(lines):
                widget.set_sizes(small)
                widget.show_line(*lines[count])
            widget.setVisible(count < len(lines))


class PrimaryReadout(QWidget):
    """The number that matters, and at its right what to do about it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        row = across(self, (0, TOP_PX, 0, 0))
        row.setSpacing(GAP_PX)
        self._most_height = NO_LIMIT
        self._lines: tuple[Line, ...] = ()
        self._chosen_for: tuple[object, ...] = ()
        self._choice = (0, False, 0)
        self.big = BigNumberView()
        self.lines = MarkedLines()
        row.addWidget(self.big, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.lines, 1, Qt.AlignmentFlag.AlignVCenter)

    def show_hero(self, big: BigNumber | None, lines: tuple[Line, ...]) -> None:
        """Show number and words; hidden without a number."""
        if (big is None) != (self.big.shown is None):
            self.setVisible(big is not None)
        self.big.show_number(big)
        if big is None:
            return
        self._lines = lines
        self.fit(self.width())

    def height_at(self, width: int, most_height: int) -> int:
        """Return the height in this width, with this much to have, and change nothing."""
        plan = self._plan(width, most_height)
        if plan is None:
            return 0
        lines = self._chosen(width - plan.width - GAP_PX, most_height)[2]
        return TOP_PX + max(plan.height, lines)

    def least_height(self) -> int:
        """Return the height below which nothing of it can be read."""
        return self.big.least_height() + TOP_PX

    def limit(self, most_height: int) -> None:
        """Set how high it may be, and fit it."""
        if most_height != self._most_height:
            self._most_height = most_height
            self.fit(self.width())

    def fit(self, width: int) -> None:
        """Fit number and words into this width."""
        plan = self._plan(width, self._most_height)
        if plan is None:
            return
        self.big.fit(*self._rooms(width), self._most_height - TOP_PX)
        count, small, _ = self._chosen(width - plan.width - GAP_PX, self._most_height)
        self.lines.show_lines(weighted(self._lines[:count]), small=small)

    def _rooms(self, width: int) -> tuple[int, int, int]:
        room = width - GAP_PX
        return room - px(COMFORT_PX), max(120, room - px(LINES_PX)), self.window().height()

    def _plan(self, width: int, most_height: int) -> Plan | None:
        return self.big.plan(*self._rooms(width), most_height - TOP_PX)

    def _chosen(self, width: int, most_height: int) -> tuple[int, bool, int]:
        """Return how many words stand whole in this room, whether small, and how high.

        They get smaller first, then fewer; the first is never left out.
        """
        key = (self._lines, width, most_height, percent())
        if key != self._chosen_for:
            self._chosen_for, self._choice = key, self._choose(max(60, width), most_height)
        return self._choice

    def _choose(self, width: int, most_height: int) -> tuple[int, bool, int]:
        most = len(self._lines) if most_height >= ALL_LINES_PX else min(1, len(self._lines))
        high = 0
        for count in range(most, 0, -1):
            for small in (False, True):
                high = self._lines_height(count, width, small=small)
                if high <= most_height - TOP_PX:
                    return count, small, high
        return min(1, most), True, high

    def _lines_height(self, count: int, width: int, *, small: bool) -> int:
        """Return the height of the first words in this width, with their gaps."""
        first, other = (FIRST_SMALL, OTHER_SMALL) if small else (FIRST_SIZES, OTHER_SIZES)
        high = LINE_GAP_PX * max(0, count - 1)
        for place, (text, tone) in enumerate(self._lines[:count]):
            room = width - (0 if tone in (Tone.PLAIN, Tone.QUIET) else px(22) + 9)
            sizes, bold = (other, False) if place else (first, True)
            line = 17 if place else 23
            pixels = fitting_px(text, room, self.font(), sizes, bold=bold, one_line_from=line)
            metrics = QFontMetrics(sized(self.font(), pixels, bold=bold))
            wrap = int(Qt.TextFlag.TextWordWrap)
            high += metrics.boundingRect(0, 0, room, 10_000, wrap, text).height() + 1
        return high

    def resizeEvent(self, event: object) -> None:
        """Fit number and words to the new room."""
        self.fit(self.width())

    def rescale(self) -> None:
        """Fit number and words anew."""
        self.fit(self.width())


def weighted(lines: tuple[Line, ...]) -> tuple[tuple[str, Tone, str], ...]:
    """Return the first line the most weight, the others less."""
    return tuple(
        (text, tone, OTHER if count else FIRST) for count, (text, tone) in enumerate(lines)
    )
