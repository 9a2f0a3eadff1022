"""A reading of an instrument that the step at hand does not rest on: half as high, in one line."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.screens.model.bench import ReadingView
from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import even_digits, palette_of
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import BODY_PX
from benchstation.ui.widgets.readout.mark import paint_mark, paint_normal, spoken

HEIGHT, WIDTH, MARK_PX, TITLE_PX = 42, 164, 16, 12


class SmallReading(QWidget):
    """Mark, title, number and unit; a stale number is struck through."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: ReadingView | None = None
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.rescale()

    def rescale(self) -> None:
        """Take the size of the text in force."""
        self.setFixedSize(QSize(px(WIDTH), px(HEIGHT)))
        self.update()

    def show_reading(self, reading: ReadingView) -> None:
        """Show a reading; does nothing when it is the one that stands there."""
        if reading == self.shown:
            return
        self.shown = reading
        self.setAccessibleName(reading.title)
        self.setAccessibleDescription(", ".join(spoken(reading)))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        reading = self.shown
        if reading is None:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        mark = QRectF(1, px(4), px(MARK_PX), px(MARK_PX))
        if reading.tone is Tone.NORMAL:
            paint_normal(painter, mark, palette)
        else:
            paint_mark(painter, mark, reading.tone, palette)
        left = px(MARK_PX) + 7.0
        small, large = (self._font(size) for size in (TITLE_PX, BODY_PX))
        title = QFontMetricsF(small).elidedText(
            reading.title, Qt.TextElideMode.ElideRight, self.width() - left
        )
        painter.setFont(small)
        painter.setPen(QColor(palette.quiet))
        painter.drawText(QPointF(left, px(15)), title)
        strong = reading.tone in (Tone.DANGER, Tone.CAUTION)
        ink = palette.tone(reading.tone).ink if strong else palette.text
        base, metrics = float(px(35)), QFontMetricsF(large)
        painter.setFont(large)
        painter.setPen(QColor(palette.faded if reading.stale else ink))
        painter.drawText(QPointF(left, base), f"{reading.number} {reading.unit}")
        if reading.stale:
            painter.setPen(QPen(QColor(palette.text), 3))
            middle = base - metrics.tightBoundingRect("0").height() / 2
            right = left + metrics.horizontalAdvance(reading.number)
            painter.drawLine(QPointF(left - 2, middle), QPointF(right + 2, middle))

    def _font(self, size: int) -> QFont:
        font = even_digits(QFont(self.font()))
        font.setPixelSize(px(size))
        return font
