"""The one number that matters now, to be read from two metres."""

import re
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.screens.model.elements import BigNumber, Tone
from benchstation.ui.shell.labels import digit_font, fitting_px, palette_of, sized
from benchstation.ui.shell.text_scale import percent, px
from benchstation.ui.shell.theme import BODY_PX, DIGIT_HEIGHT_PX, TITLE_PX
from benchstation.ui.widgets.readout.mark import paint_mark

CAPTION_PX, GAP_PX, TIGHT_GAP_PX, MARK_PX, ROOMY_PX = 30, 14, 4, 26, 160
CAPTION_SIZES = (TITLE_PX, 20, 17, 14)
USUAL = "000.0"
"""What there is always room for, so that nothing shakes when a digit comes or goes."""
NO_LIMIT, MOST_PLANS = 10_000, 32
UNIT_PART, SHARE_OF_WINDOW, HIGHEST_PX, LEAST_PX = 0.27, 0.145, 200.0, 48.0


@dataclass(frozen=True, slots=True)
class Plan:
    """How a number is drawn: digits' height, unit beside or above, gap, and the whole size."""

    digit_px: float
    beside: bool
    gap: int
    width: int
    height: int


def _caption(big: BigNumber, *, beside: bool) -> str:
    words = big.caption
    named = re.search(rf"(?<!\w){re.escape(big.unit)}(?!\w)", words)
    if not beside and not named:
        words += f", {big.unit}"
    return f"{words}   too old" if big.stale else words


class BigNumberView(QWidget):
    """Caption, number and unit. A number that is too old is struck through and faded."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._shown: BigNumber | None = None
        self._font = digit_font(self.font(), DIGIT_HEIGHT_PX)
        self._plan = Plan(float(DIGIT_HEIGHT_PX), True, GAP_PX, 0, 0)
        self._plans: dict[tuple[object, ...], Plan] = {}
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)

    @property
    def shown(self) -> BigNumber | None:
        """Return what stands there."""
        return self._shown

    @property
    def digit_height_px(self) -> float:
        """Return how high the digits are drawn."""
        return QFontMetricsF(self._font).tightBoundingRect("0").height()

    def show_number(self, big: BigNumber | None) -> None:
        """Show a number; does nothing when it is the one that stands there."""
        if big == self._shown:
            return
        self._shown = big
        if big is None:
            return
        self.setAccessibleName(big.caption)
        said = [f"{big.caption} {big.number} {big.unit}"]
        if big.stale:
            said.append("too old, do not rely on it")
        self.setAccessibleDescription(", ".join(said))
        self.update()

    def plan(
        self, comfortable: int, room: int, window_height: int, most_height: int = NO_LIMIT
    ) -> Plan | None:
        """Return the best size: the unit beside the number, else above it; ``None`` without one.

        ``comfortable`` leaves good room for the words beside, ``room`` just enough. The digits
        keep their least height for two metres; only a number that could not be shown at all, as
        where alarms take the room and ``most_height`` is small, is drawn smaller.
        """
        big = self._shown
        if big is None:
            return None
        look = (len(big.number), big.unit, big.caption, big.stale, percent(), self.font().family())
        key = (comfortable, room, window_height, most_height, look)
        plan = self._plans.get(key)
        if plan is None:
            if len(self._plans) >= MOST_PLANS:
                self._plans.clear()
            plan = self._plans[key] = self._make_plan(
                big, comfortable, room, window_height, most_height
            )
        return plan

    def _make_plan(
        self, big: BigNumber, comfortable: int, room: int, window_height: int, most_height: int
    ) -> Plan:
        gap = GAP_PX if most_height >= px(ROOMY_PX) else TIGHT_GAP_PX
        limit = max(LEAST_PX, most_height - px(CAPTION_PX) - 2 * gap)
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
            # Sizes of fonts are whole pixels.
            digit = max(LEAST_PX, digit * (room - 8) / need)
        width = round(min(room, max(need, self._caption_width(big, beside=beside))))
        height = round(max(least, digit) + px(CAPTION_PX) + 2 * gap)
        return Plan(digit, beside, gap, width, height)

    def fit(
        self, comfortable: int, room: int, window_height: int, most_height: int = NO_LIMIT
    ) -> None:
        """Take the size that :meth:`plan` gives."""
        plan = self.plan(comfortable, room, window_height, most_height)
        if plan is None or plan == self._plan:
            return
        self._plan = plan
        self._font = digit_font(self.font(), plan.digit_px)
        self.setFixedSize(plan.width, plan.height)
        self.update()

    @staticmethod
    def least_height() -> int:
        """Return the height of caption and smallest digits."""
        return round(LEAST_PX) + px(CAPTION_PX) + 2 * TIGHT_GAP_PX

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
        font.setPixelSize(max(px(BODY_PX), round(digit * UNIT_PART)))
        return font

    def _caption_font(self) -> QFont:
        font = QFont(self.font())
        font.setPixelSize(px(TITLE_PX))
        return font

    def _caption_width(self, big: BigNumber, *, beside: bool) -> float:
        metrics = QFontMetricsF(self._caption_font())
        return metrics.horizontalAdvance(_caption(big, beside=beside)) + px(MARK_PX) + 14

    def fits(self) -> bool:
        """Return True when number and caption stand whole."""
        need = self._need(self._plan.digit_px, beside=self._plan.beside)
        return need <= self.width() + 1 and self.minimumHeight() <= self.height()

    def caption(self) -> str:
        """Return the words above the number, with the unit when it stands there."""
        return "" if self._shown is None else _caption(self._shown, beside=self._plan.beside)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        big = self._shown
        if big is None:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        left = 0.0
        if big.tone not in (Tone.PLAIN, Tone.QUIET) and not big.stale:
            paint_mark(painter, QRectF(0, 2, px(MARK_PX), px(MARK_PX)), big.tone, palette)
            left = px(MARK_PX) + 10.0
        room = round(self.width() - left)
        small = fitting_px(self.caption(), room, self.font(), CAPTION_SIZES, one_line_from=0)
        painter.setFont(sized(self.font(), small))
        painter.setPen(QColor(palette.text if big.stale else palette.quiet))
        box = QRectF(left, 0, self.width() - left, px(CAPTION_PX))
        align = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
        painter.drawText(box, align, self.caption())
        base = px(CAPTION_PX) + self._plan.gap + self._plan.digit_px
        metrics = QFontMetricsF(self._font)
        # The first digit's own side bearing would push it off the column's left edge.
        start = -metrics.tightBoundingRect(big.number[:1]).left() if big.number else 0.0
        end = start + metrics.horizontalAdvance(big.number)
        painter.setFont(self._font)
        painter.setPen(QColor(palette.faded if big.stale else palette.tone(big.tone).ink))
        painter.drawText(QPointF(start, base), big.number)
        if self._plan.beside:
            painter.setFont(self._unit_font(self._plan.digit_px))
            painter.setPen(QColor(palette.quiet))
            painter.drawText(QPointF(end + GAP_PX, base), big.unit)
        if big.stale:
            painter.setPen(QPen(QColor(palette.text), max(5.0, self._plan.digit_px / 16)))
            middle = base - self._plan.digit_px / 2
            painter.drawLine(QPointF(0, middle), QPointF(end, middle))
