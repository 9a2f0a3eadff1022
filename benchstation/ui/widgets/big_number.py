"""The one number that matters now, to be read from two metres."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.bench_view import BigNumber, Tone
from benchstation.ui.theme import DIGIT_HEIGHT_PX, TITLE_PX
from benchstation.ui.widgets.labels import digit_font, palette_of
from benchstation.ui.widgets.mark import paint_mark

CAPTION_PX, GAP_PX, MARK_PX = 30, 14, 26
WIDEST = "-000.0"
"""What the number must have room for, so that it never shakes and never shrinks in a pour."""


class BigNumberView(QWidget):
    """Caption, number and unit. A number that is too old is struck through and faded."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: BigNumber | None = None
        self._font = digit_font(self.font(), DIGIT_HEIGHT_PX)
        self._digit_px = DIGIT_HEIGHT_PX
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    @property
    def shown(self) -> BigNumber | None:
        """What stands there."""
        return self._shown

    @property
    def digit_height_px(self) -> float:
        """How high the digits are drawn."""
        return QFontMetricsF(self._font).tightBoundingRect("0").height()

    def show_number(self, big: BigNumber) -> None:
        """Show a number; does nothing when it is the one that stands there."""
        if big == self._shown:
            return
        wider = self._shown is None or len(big.number) != len(self._shown.number)
        unit = self._shown is None or big.unit != self._shown.unit
        self._shown = big
        self.setAccessibleName(big.caption)
        self.setAccessibleDescription(self._spoken(big))
        if wider or unit:
            self._fit()
            self.updateGeometry()
        self.update()

    @staticmethod
    def _spoken(big: BigNumber) -> str:
        words = [f"{big.caption} {big.number} {big.unit}"]
        if big.stale:
            words.append("too old, do not rely on it")
        return ", ".join(words)

    def _unit_font(self) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(round(self._digit_px * 0.27))
        return font

    def _fit(self) -> None:
        """Grow with the window; shrink only for a number that would not fit at all."""
        digit = max(DIGIT_HEIGHT_PX, min(200.0, self.window().height() * 0.145))
        self._digit_px = digit
        self._font = digit_font(self.font(), digit)
        need, room = self._needed_width(), max(self.width(), 100)
        if need > room:
            self._digit_px = max(48.0, digit * room / need)
            self._font = digit_font(self.font(), self._digit_px)
        height = round(max(DIGIT_HEIGHT_PX, self._digit_px) + CAPTION_PX + 2 * GAP_PX)
        if height != self.height():
            self.setFixedHeight(height)

    def _needed_width(self) -> float:
        big = self._shown
        if big is None:
            return 0.0
        number = QFontMetricsF(self._font).horizontalAdvance(big.number)
        unit = QFontMetricsF(self._unit_font()).horizontalAdvance(big.unit)
        return number + GAP_PX + unit + 4

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit the number to the new room."""
        super().resizeEvent(event)
        self._fit()

    def sizeHint(self) -> QSize:
        """Ask for the number's own width."""
        return QSize(round(self._needed_width()), self.height())

    def minimumSizeHint(self) -> QSize:
        """Ask for room for the usual number."""
        metrics = QFontMetricsF(digit_font(self.font(), DIGIT_HEIGHT_PX))
        return QSize(round(metrics.horizontalAdvance("000.0")) + GAP_PX + 40, self.height())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        big = self._shown
        if big is None:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        ink = QColor(palette.faded if big.stale else palette.tone(big.tone).ink)
        left = 0.0
        if big.tone not in (Tone.PLAIN, Tone.QUIET) and not big.stale:
            paint_mark(painter, QRectF(0, 2, MARK_PX, MARK_PX), big.tone, palette)
            left = MARK_PX + 10.0
        caption = QFont(self.font())
        caption.setPixelSize(TITLE_PX)
        painter.setFont(caption)
        painter.setPen(QColor(palette.quiet))
        words = f"{big.caption}   too old" if big.stale else big.caption
        box = QRectF(left, 0, self.width() - left, CAPTION_PX)
        painter.drawText(box, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, words)
        base = CAPTION_PX + GAP_PX + self._digit_px
        painter.setFont(self._font)
        painter.setPen(ink)
        metrics = QFontMetricsF(self._font)
        # The first digit's own side bearing would push it off the column's left edge.
        start = -metrics.tightBoundingRect(big.number[:1]).left() if big.number else 0.0
        painter.drawText(QPointF(start, base), big.number)
        end = start + metrics.horizontalAdvance(big.number)
        painter.setFont(self._unit_font())
        painter.setPen(QColor(palette.quiet))
        painter.drawText(QPointF(end + GAP_PX, base), big.unit)
        if big.stale:
            pen = QPen(QColor(palette.text), max(5.0, self._digit_px / 16))
            painter.setPen(pen)
            middle = base - self._digit_px / 2
            painter.drawLine(QPointF(0, middle), QPointF(end, middle))
