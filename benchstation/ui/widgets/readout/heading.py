"""What the step is called and what to do, with its cautions as one line that opens."""

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetrics,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.screens.model.elements import ActionView, Tone
from benchstation.ui.shell.labels import BoxLabel, palette_of, sized
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import SMALL_PX
from benchstation.ui.widgets.readout.mark import paint_mark

TITLE_SIZES = (23, 20, 17, 15, 13, 11, 10, 9, 8)
INSTRUCTION_SIZES = (17, 16, 15, 14, 13, 12, 11, 10, 9, 8, 7)
TITLE_SHARE, GAP_PX, LINES = 0.42, 18, 2
CAUTION_SIZES = (SMALL_PX, 13, 12)
MORE = ActionView("more", "More", "Alt+M")
MORE_KEY = MORE.key
"""Opens the drawer: cautions in full, and everything else that may be done."""


class Heading(QWidget):
    """Title and instruction beside each other, two lines of each at most where a number stands."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self.title = BoxLabel(TITLE_SIZES)
        self.instruction = BoxLabel(INSTRUCTION_SIZES, bold=False)
        for part in (self.title, self.instruction):
            part.setParent(self)
            part.setAlignment(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft)

    def show_heading(self, title: str, instruction: str) -> None:
        """Show both."""
        if (title, instruction) == (self.title.text(), self.instruction.text()):
            return
        self.title.show_text(title)
        self.instruction.show_text(instruction)
        self.instruction.setVisible(bool(instruction))
        self._place()

    def rescale(self) -> None:
        """Share the width for the text size in force."""
        self._place()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the new width."""
        self._place()

    def below(self, width: int) -> bool:
        """Return True where the instruction is too long for two lines beside the title."""
        metrics = QFontMetrics(sized(self.font(), INSTRUCTION_SIZES[2]))
        room = width - self._title_width(width) - GAP_PX
        wrap = int(Qt.TextFlag.TextWordWrap)
        words = self.instruction.text()
        high = metrics.boundingRect(0, 0, max(60, room), 10_000, wrap, words).height()
        return high > LINES * metrics.lineSpacing()

    def full_height(self, width: int) -> int:
        """Return the height in which both stand whole, the instruction below the title."""
        metrics = QFontMetrics(sized(self.font(), INSTRUCTION_SIZES[0]))
        wrap = int(Qt.TextFlag.TextWordWrap)
        words = self.instruction.text()
        high = metrics.boundingRect(0, 0, max(60, width), 10_000, wrap, words).height()
        return px(TITLE_SIZES[0] + 10) + (high + px(4) if words else 0)

    def _title_width(self, width: int) -> int:
        metrics = QFontMetrics(sized(self.font(), TITLE_SIZES[0], bold=True))
        need = metrics.horizontalAdvance(self.title.text()) + 4
        return min(need, round(TITLE_SHARE * width)) if self.instruction.text() else width

    def _place(self) -> None:
        stacked = self.below(self.width()) and self.height() >= self.full_height(self.width())
        if stacked:
            high = px(TITLE_SIZES[0] + 10)
            self.title.setGeometry(0, 0, self.width(), high)
            self.instruction.setGeometry(0, high, self.width(), self.height() - high)
            return
        title = self._title_width(self.width())
        self.title.setGeometry(0, 0, title, self.height())
        left = title + GAP_PX
        self.instruction.setGeometry(left, 0, max(1, self.width() - left), self.height())


class CautionLine(QWidget):
    """All cautions of a step in one line; a key, or a press on it, opens them in full."""

    opened = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._cautions: tuple[str, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    @property
    def cautions(self) -> tuple[str, ...]:
        """Return what it stands for."""
        return self._cautions

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Open them."""
        self.opened.emit()

    def show_cautions(self, cautions: tuple[str, ...]) -> None:
        """Show these cautions."""
        if cautions != self._cautions:
            self._cautions = cautions
            self.setAccessibleName(" ".join(("caution:", *cautions)))
            self.update()
        self.setVisible(bool(cautions))

    def words(self) -> tuple[str, str]:
        """Return what stands there, and what says that there is more."""
        metrics = QFontMetrics(self._font())
        whole = "  ".join(self._cautions)
        room = self.width() - px(SMALL_PX + 6) - 8
        if metrics.horizontalAdvance(whole) <= room:
            return whole, ""
        more = f"   all {len(self._cautions)}: {MORE_KEY}" if len(self._cautions) > 1 else ""
        more = more or f"   all of it: {MORE_KEY}"
        left = room - metrics.horizontalAdvance(more)
        shown = ""
        for caution in self._cautions:
            longer = f"{shown}  {caution}" if shown else caution
            if metrics.horizontalAdvance(longer) > left:
                break
            shown = longer
        if not shown:
            shown = metrics.elidedText(whole, Qt.TextElideMode.ElideRight, left)
        return shown, more

    def _font(self) -> QFont:
        return sized(self.font(), CAUTION_SIZES[0])

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the mark and the words."""
        painter, palette = QPainter(self), palette_of(self)
        mark = float(px(SMALL_PX + 4))
        top = (self.height() - mark) / 2
        paint_mark(painter, QRectF(0, top, mark, mark), Tone.CAUTION, palette)
        painter.setFont(self._font())
        shown, more = self.words()
        left = mark + 8
        metrics = QFontMetrics(painter.font())
        align = int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft)
        painter.setPen(QColor(palette.tone(Tone.CAUTION).ink))
        painter.drawText(QRectF(left, 0, self.width() - left, self.height()), align, shown)
        left += metrics.horizontalAdvance(shown)
        painter.setPen(QColor(palette.quiet))
        painter.drawText(QRectF(left, 0, self.width() - left, self.height()), align, more)
