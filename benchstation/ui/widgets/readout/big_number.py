"""The one number that matters now: read from two metres, its decimal point always at one place."""

import re

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.screens.model.elements import BigNumber, Tone
from benchstation.ui.shell.labels import digit_font, fitting_px, palette_of, sized
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import DIGIT_HEIGHT_PX, TITLE_PX
from benchstation.ui.widgets.readout.grid import (
    CAPTION_GAP_PX,
    CAPTION_PX,
    DIGIT,
    number_width,
    point_at,
)
from benchstation.ui.widgets.readout.mark import paint_mark

CAPTION_SIZES = (TITLE_PX - 4, 17, 15, 14, 13, 12, 11)
MARK_PX, MINUS = 20, "-\u2212+"
SIGN_WIDTH = 0.5
"""Of a digit's height: a sign needs less than a digit takes."""


def _caption(big: BigNumber) -> str:
    words = big.caption
    if not re.search(rf"(?<!\w){re.escape(big.unit)}(?!\w)", words):
        words += f", {big.unit}"
    if big.spread:
        words += f"   {big.spread}"
    return f"{words}   too old" if big.stale else words


class BigNumberView(QWidget):
    """Caption, number and unit. A number that is too old is struck through and faded.

    The height of the digits and the place of the point are those of the grid, whatever stands
    there: a number too long for its place is drawn narrower, never lower.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: BigNumber | None = None
        self._digit = float(DIGIT_HEIGHT_PX)
        self._font = digit_font(self.font(), self._digit)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.fit(self._digit)

    @property
    def shown(self) -> BigNumber | None:
        """Return what stands there."""
        return self._shown

    @property
    def digit_height_px(self) -> float:
        """Return how high the digits are drawn."""
        return QFontMetricsF(self._font).tightBoundingRect("0").height()

    @property
    def point_x(self) -> float:
        """Return where the decimal point stands, whatever the number."""
        return point_at(self._digit)

    @property
    def base_y(self) -> float:
        """Return the height of the line that the number stands on."""
        return px(CAPTION_PX) + CAPTION_GAP_PX + self._digit

    def show_number(self, big: BigNumber | None) -> None:
        """Show a number; does nothing when it is the one that stands there."""
        if big == self._shown:
            return
        self._shown = big
        if big is None:
            return
        self.setAccessibleName(big.caption)
        said = [f"{big.caption} {big.number} {big.unit}", big.spread]
        if big.stale:
            said.append("too old, do not rely on it")
        self.setAccessibleDescription(", ".join(part for part in said if part))
        self.update()

    def fit(self, digit: float) -> None:
        """Take digits of this height, and the size that goes with them."""
        self._digit = digit
        self._font = digit_font(self.font(), digit)
        high = px(CAPTION_PX) + 2 * CAPTION_GAP_PX + round(digit)
        self.setFixedSize(number_width(digit), high)
        self.update()

    def pieces(self) -> tuple[tuple[str, QRectF, float], ...]:
        """Return the parts of the number, their places, and how narrow each is drawn."""
        big = self._shown
        if big is None:
            return ()
        sign = big.number[:1] if big.number[:1] in MINUS else ""
        whole, point, decimals = big.number[len(sign) :].partition(".")
        narrow = self._narrow()
        metrics, top = QFontMetricsF(self._font), px(CAPTION_PX) + CAPTION_GAP_PX
        found = []
        wide = metrics.horizontalAdvance(whole) * narrow
        room = self.point_x - (SIGN_WIDTH * self._digit if sign else 0.0)
        if wide > room > 0:
            narrow_whole, wide = narrow * room / wide, room
        else:
            narrow_whole = narrow
        found.append((whole, QRectF(self.point_x - wide, top, wide, self._digit), narrow_whole))
        if sign:
            size = metrics.horizontalAdvance(sign) * narrow
            shrink = min(1.0, SIGN_WIDTH * self._digit / size) if size else 1.0
            box = QRectF(self.point_x - wide - size * shrink, top, size * shrink, self._digit)
            found.append((sign, box, narrow * shrink))
        if point:
            rest = f".{decimals}"
            size, room = metrics.horizontalAdvance(rest) * narrow, self.width() - self.point_x
            shrink = min(1.0, room / size) if size else 1.0
            box = QRectF(self.point_x, top, size * shrink, self._digit)
            found.append((rest, box, narrow * shrink))
        return tuple(found)

    def _narrow(self) -> float:
        """Return how narrow a digit of this font is drawn to take its place in the grid."""
        wide = QFontMetricsF(self._font).horizontalAdvance("0")
        return min(1.0, DIGIT * self._digit / wide) if wide else 1.0

    def fits(self) -> bool:
        """Return True when number and caption stand whole."""
        inside = QRectF(self.rect()).adjusted(-1, -1, 1, 1)
        metrics = QFontMetricsF(sized(self.font(), CAPTION_SIZES[-1]))
        caption = metrics.horizontalAdvance(self.caption()) <= self.width() - self._mark_room()
        return caption and all(inside.contains(box) for _, box, _ in self.pieces())

    def caption(self) -> str:
        """Return the words above the number, with its unit."""
        return "" if self._shown is None else _caption(self._shown)

    def _mark_room(self) -> float:
        big = self._shown
        marked = big is not None and big.tone not in (Tone.PLAIN, Tone.QUIET) and not big.stale
        return px(MARK_PX) + 8.0 if marked else 0.0

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        big = self._shown
        if big is None:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        left = self._mark_room()
        if left:
            paint_mark(painter, QRectF(0, 1, px(MARK_PX), px(MARK_PX)), big.tone, palette)
        room = round(self.width() - left)
        small = fitting_px(self.caption(), room, self.font(), CAPTION_SIZES, one_line_from=0)
        painter.setFont(sized(self.font(), small))
        painter.setPen(QColor(palette.text if big.stale else palette.quiet))
        box = QRectF(left, 0, self.width() - left, px(CAPTION_PX))
        align = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
        painter.drawText(box, align, self.caption())
        painter.setFont(QFont(self._font))
        painter.setPen(QColor(palette.faded if big.stale else palette.tone(big.tone).ink))
        pieces = self.pieces()
        for words, place, narrow in pieces:
            painter.save()
            painter.translate(place.left(), self.base_y)
            painter.scale(narrow, 1.0)
            painter.drawText(QPointF(0.0, 0.0), words)
            painter.restore()
        if big.stale and pieces:
            painter.setPen(QPen(QColor(palette.text), max(5.0, self._digit / 16)))
            middle = self.base_y - self._digit / 2
            start = min(place.left() for _, place, _ in pieces)
            end = max(place.right() for _, place, _ in pieces)
            painter.drawLine(QPointF(start, middle), QPointF(end, middle))
