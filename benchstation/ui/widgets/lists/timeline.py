"""What happened to a unit, row by row: local time, what, its evidence or reason, and by whom."""

from PySide6.QtCore import QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.screens.model.records import TimelineRow
from benchstation.ui.shell.labels import broken, label, palette_of, sized
from benchstation.ui.shell.layouts import down
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import BODY_PX, SMALL_PX
from benchstation.ui.widgets.readout.mark import paint_mark

TIME_PX, GAP, TALLEST, MARK_PX = 165, 12, 10_000, 15
WRAP = int(Qt.TextFlag.TextWordWrap)
PLAIN = (Tone.PLAIN, Tone.QUIET)


class Row(QWidget):
    """One row. It takes as many lines as its words need."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: TimelineRow | None = None
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self._measured: dict[tuple[int, str, int], tuple[tuple[QRect, str], ...]] = {}

    def show_row(self, row: TimelineRow) -> None:
        """Show a row."""
        if row == self.shown:
            return
        self.shown = row
        self._measured.clear()
        marked = "" if row.tone in PLAIN else f", {row.tone}"
        self.setAccessibleName(f"{row.when}: {row.title}, {row.words}, {row.who}{marked}")
        self.updateGeometry()
        self.update()

    def _fonts(self) -> tuple[QFont, QFont, QFont, QFont]:
        font = self.font()
        small = sized(font, SMALL_PX)
        return small, sized(font, BODY_PX, bold=True), small, sized(font, BODY_PX)

    def parts(self, width: int) -> tuple[tuple[QRect, str], ...]:
        """Return place and words of time, title, who and evidence in this width."""
        key = width, self.font().key(), px(BODY_PX)
        if key not in self._measured:
            self._measured[key] = self._measure(width)
        return self._measured[key]

    def _measure(self, width: int) -> tuple[tuple[QRect, str], ...]:
        row = self.shown
        if row is None:
            return ()
        left = px(TIME_PX) + GAP
        marked = 0 if row.tone in PLAIN else px(MARK_PX) + 6
        middle = max(80, width - left)
        fonts = [QFontMetrics(font) for font in self._fonts()]

        def box(x: int, y: int, wide: int, words: str, metrics: QFontMetrics) -> tuple[QRect, str]:
            said = broken(words, metrics, wide)
            high = metrics.boundingRect(0, 0, wide, TALLEST, WRAP, said).height()
            return QRect(x, y, wide, high if words else 0), said

        when = box(0, 5, left - GAP, row.when, fonts[0])
        name = box(0, when[0].bottom() + 1, left - GAP, row.who, fonts[2])
        title = box(left + marked, 3, middle - marked, row.title, fonts[1])
        below = title[0].bottom() + 1
        return when, title, name, box(left, below, middle, row.words, fonts[3])

    def hasHeightForWidth(self) -> bool:
        """Return True: long words take more lines."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return the height in this width."""
        return max((place.bottom() for place, _ in self.parts(width)), default=0) + 6

    def sizeHint(self) -> QSize:
        """Ask for a usual width."""
        return QSize(400, self.heightForWidth(max(self.width(), 300)))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw time, mark, title, who and evidence."""
        row = self.shown
        if row is None:
            return
        painter, palette = QPainter(self), palette_of(self)
        inks = (palette.quiet, palette.text, palette.quiet, palette.text)
        for (place, words), font, ink in zip(
            self.parts(self.width()), self._fonts(), inks, strict=True
        ):
            painter.setFont(font)
            painter.setPen(QColor(ink))
            painter.drawText(place, WRAP, words)
        if row.tone not in PLAIN:
            mark = QRectF(px(TIME_PX) + GAP, 4, px(MARK_PX), px(MARK_PX))
            paint_mark(painter, mark, row.tone, palette)


class Timeline(QWidget):
    """Rows under a heading; hidden while there are none."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._box = down(self, spacing=0)
        self.heading = label("", "strong", wrap=True)
        self._box.addWidget(self.heading)
        self.rows: list[Row] = []

    def show_rows(self, heading: str, rows: tuple[TimelineRow, ...]) -> None:
        """Show rows under a heading."""
        self.setVisible(bool(rows))
        self.heading.setText(heading)
        while len(self.rows) < len(rows):
            self.rows.append(Row(self))
            self._box.addWidget(self.rows[-1])
        for count, widget in enumerate(self.rows):
            widget.setVisible(count < len(rows))
            if count < len(rows):
                widget.show_row(rows[count])
