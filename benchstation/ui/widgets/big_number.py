"""The one number that matters now, to be read from two metres."""

import re

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.bench_view import BigNumber, Tone
from benchstation.ui.theme import DIGIT_HEIGHT_PX, TITLE_PX
from benchstation.ui.widgets.labels import digit_font, palette_of
from benchstation.ui.widgets.mark import paint_mark

CAPTION_PX, GAP_PX, MARK_PX = 30, 14, 26
USUAL = "000.0"
"""What there is always room for, so that nothing shakes when a digit comes or goes."""
NO_LIMIT = 10_000
UNIT_PART, SHARE_OF_WINDOW, HIGHEST_PX, LEAST_PX = 0.27, 0.145, 200.0, 48.0


class BigNumberView(QWidget):
    """Caption, number and unit. A number that is too old is struck through and faded."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: BigNumber | None = None
        self._font = digit_font(self.font(), DIGIT_HEIGHT_PX)
        self._digit_px = float(DIGIT_HEIGHT_PX)
        self._beside = True
        self._fitted: tuple[object, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

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
        self._shown = big
        self.setAccessibleName(big.caption)
        said = [f"{big.caption} {big.number} {big.unit}"]
        if big.stale:
            said.append("too old, do not rely on it")
        self.setAccessibleDescription(", ".join(said))
        self.update()

    def fit(
        self, comfortable: int, room: int, window_height: int, most_height: int = NO_LIMIT
    ) -> None:
        """Take the best size: the unit beside the number, else above it.

        ``comfortable`` leaves good room for the words beside, ``room`` just enough. The digits
        keep their least height for two metres; only a number that could not be shown at all, as
        where alarms take the room and ``most_height`` is small, is drawn smaller.
        """
        big = self._shown
        if big is None:
            return
        limit = max(LEAST_PX, most_height - CAPTION_PX - 2 * GAP_PX)
        key = (comfortable, room, window_height, limit, len(big.number), big.unit, big.caption)
        if key == self._fitted:
            return
        self._fitted = key
        wanted = max(DIGIT_HEIGHT_PX, min(HIGHEST_PX, SHARE_OF_WINDOW * window_height))
        wanted, least = min(wanted, limit), min(float(DIGIT_HEIGHT_PX), limit)
        for digit, beside, most in (
            (wanted, True, comfortable),
            (wanted, False, comfortable),
            (least, True, comfortable),
            (least, False, comfortable),
            (least, False, room),
        ):
            need = self._need(digit, beside=beside)
            if need <= most:
                break
        else:
            digit = max(LEAST_PX, digit * room / need)
        self._digit_px, self._beside = digit, beside
        self._font = digit_font(self.font(), digit)
        self.setFixedSize(
            round(min(room, max(need, self._caption_width()))),
            round(max(least, digit) + CAPTION_PX + 2 * GAP_PX),
        )
        self.update()

    def _need(self, digit: float, *, beside: bool) -> float:
        assert self._shown is not None
        metrics = QFontMetricsF(digit_font(self.font(), digit))
        number = max(metrics.horizontalAdvance(t) for t in (self._shown.number, USUAL))
        if not beside:
            return number + 6
        unit = QFontMetricsF(self._unit_font(digit)).horizontalAdvance(self._shown.unit)
        return number + GAP_PX + unit + 6

    def _unit_font(self, digit: float) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(round(digit * UNIT_PART))
        return font

    def _caption_font(self) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(TITLE_PX)
        return font

    def _caption_width(self) -> float:
        metrics = QFontMetricsF(self._caption_font())
        return metrics.horizontalAdvance(self.caption()) + MARK_PX + 14

    def caption(self) -> str:
        """Give the words above the number, with the unit when it stands there."""
        big = self._shown
        if big is None:
            return ""
        words = big.caption
        named = re.search(rf"(?<!\w){re.escape(big.unit)}(?!\w)", words)
        if not self._beside and not named:
            words += f", {big.unit}"
        return f"{words}   too old" if big.stale else words

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        big = self._shown
        if big is None:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        left = 0.0
        if big.tone not in (Tone.PLAIN, Tone.QUIET) and not big.stale:
            paint_mark(painter, QRectF(0, 2, MARK_PX, MARK_PX), big.tone, palette)
            left = MARK_PX + 10.0
        painter.setFont(self._caption_font())
        painter.setPen(QColor(palette.text if big.stale else palette.quiet))
        box = QRectF(left, 0, self.width() - left, CAPTION_PX)
        align = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
        painter.drawText(box, align, self.caption())
        base = CAPTION_PX + GAP_PX + self._digit_px
        metrics = QFontMetricsF(self._font)
        # The first digit's own side bearing would push it off the column's left edge.
        start = -metrics.tightBoundingRect(big.number[:1]).left() if big.number else 0.0
        end = start + metrics.horizontalAdvance(big.number)
        painter.setFont(self._font)
        painter.setPen(QColor(palette.faded if big.stale else palette.tone(big.tone).ink))
        painter.drawText(QPointF(start, base), big.number)
        if self._beside:
            painter.setFont(self._unit_font(self._digit_px))
            painter.setPen(QColor(palette.quiet))
            painter.drawText(QPointF(end + GAP_PX, base), big.unit)
        if big.stale:
            painter.setPen(QPen(QColor(palette.text), max(5.0, self._digit_px / 16)))
            middle = base - self._digit_px / 2
            painter.drawLine(QPointF(0, middle), QPointF(end, middle))
