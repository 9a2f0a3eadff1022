"""The same drawing at the bench: the part of this step lit, oil and gas as high as they are read.

What is lit has a thick outline and its word, so that it is known without colour; the rest is line.
"""

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QFontMetricsF,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.damper import BODY, OPEN, WHOLE, LiveDamperView
from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import palette_of, sized
from benchstation.ui.shell.text_scale import soft
from benchstation.ui.shell.theme import SMALL_PX, Palette
from benchstation.ui.widgets.drawings.damper import (
    BEHIND,
    FLOATING,
    GAP,
    NITROGEN,
    OIL,
    PISTON,
    ROD,
    SIDE,
    WALL,
    Damper,
)

WORDS_PX, SUPPLY_PX, BOTTLE_PX, VALVE_PX = 13, 118.0, 30.0, 9.0


class LiveDamper(Damper):
    """The unit on the bench."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.live: LiveDamperView | None = None
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self.hide()

    def show_live(self, live: LiveDamperView | None) -> None:
        """Draw the unit as it is; does nothing when it is as it was."""
        if live == self.live:
            return
        self.live = live
        if live is None:
            self.hide()
            return
        self.show_drawing(live.drawing, UnitSystem.METRIC)
        said = [live.lit or "the unit", live.lit_words]
        said += [f"bottle valve {live.valve}"] if live.valve else []
        said += [live.rests_on] if live.rests_on else []
        self.setAccessibleDescription(", ".join(part for part in said if part))
        self.update()

    @property
    def beside(self) -> float:
        """Return the width of bottle and line, kept whether they are drawn or not."""
        return SUPPLY_PX

    @property
    def middle(self) -> float:
        """Return the height of the unit's axis: words stand below it."""
        return (self.height() - soft(WORDS_PX + 5)) / 2

    def scale(self, width: float) -> float:
        """Return the pixels for a metre that fit this width and the height."""
        wide = super().scale(width)
        if self.shown is None:
            return wide
        high = self.height() - soft(WORDS_PX + 5) - 2 * (WALL + 2)
        return float(min(wide, max(1.0, high) / self.shown.bore))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the parts, what is in them, what is lit, and the line to the bottle."""
        live, parts = self.live, self.parts()
        if live is None or not parts:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self._words_font())
        self._body(painter, palette, parts)
        self._gas(painter, palette, parts[NITROGEN], live.gas)
        for name in (OIL, BEHIND):
            self._oil(painter, palette, parts[name], live.oil)
        for name, pattern in (
            (FLOATING, Qt.BrushStyle.BDiagPattern),
            (PISTON, Qt.BrushStyle.FDiagPattern),
            (ROD, Qt.BrushStyle.SolidPattern),
        ):
            painter.fillRect(parts[name], QColor(palette.metal))
            if name != ROD:
                painter.fillRect(parts[name], QBrush(QColor(palette.ground), pattern))
        if live.valve:
            self._supply(painter, palette, parts[BODY], live.valve)
        if live.lit:
            self._lit(painter, palette, parts, live)

    def _words_font(self) -> QFont:
        font = sized(self.font(), WORDS_PX)
        font.setPixelSize(soft(WORDS_PX))
        return font

    @staticmethod
    def _gas(painter: QPainter, palette: Palette, box: QRectF, share: float) -> None:
        """Draw the denser dots, the more gas there is."""
        painter.fillRect(box, QColor(palette.gas if share > 0 else palette.well))
        for least, pattern in (
            (0.02, Qt.BrushStyle.Dense7Pattern),
            (0.4, Qt.BrushStyle.Dense6Pattern),
            (0.8, Qt.BrushStyle.Dense5Pattern),
        ):
            if share >= least:
                painter.fillRect(box, QBrush(QColor(palette.quiet), pattern))

    @staticmethod
    def _oil(painter: QPainter, palette: Palette, box: QRectF, share: float) -> None:
        """Draw the oil as high as its share of the fill."""
        painter.fillRect(box, QColor(palette.well))
        if share <= 0:
            return
        level = box.bottom() - share * box.height()
        filled = QRectF(box.left(), level, box.width(), box.bottom() - level)
        painter.fillRect(filled, QColor(palette.oil))
        painter.fillRect(filled, QBrush(QColor(palette.oil_ink), Qt.BrushStyle.HorPattern))

    def _lit(
        self, painter: QPainter, palette: Palette, parts: dict[str, QRectF], live: LiveDamperView
    ) -> None:
        """Outline the part of this step, and write at it what is read or measured."""
        blue = palette.tone(Tone.MANDATORY)
        lit = (BODY, ROD) if live.lit == WHOLE else (live.lit,)
        box = parts[lit[0]]
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(blue.ink), 3))
        for name in lit:
            painter.drawRect(parts[name].adjusted(1, 1, -1, -1))
        words = f"{live.lit}  {live.lit_words}".strip()
        wide = QFontMetricsF(painter.font()).horizontalAdvance(words) + 4
        top = parts[BODY].bottom() + WALL + 1
        left = min(max(SIDE, box.center().x() - wide / 2), self.width() - wide)
        painter.setPen(QColor(palette.text))
        place = QRectF(left, top, wide, self.height() - top)
        painter.drawText(
            place, int(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignHCenter), words
        )
        self._rests_on(painter, palette, live.rests_on, place)
        if live.measured:
            # From the tube's mouth to the face of the part: what the depth gauge spans.
            self._dimension(painter, palette, box.right(), parts[BODY].right(), box.center().y())

    def _rests_on(self, painter: QPainter, palette: Palette, words: str, beside: QRectF) -> None:
        """Write what the floating piston's place rests on, where the words beside leave room."""
        wide = QFontMetricsF(painter.font()).horizontalAdvance(words) + 4
        left = self.width() - SIDE - wide
        if left - beside.right() < GAP:
            left = SIDE if beside.left() - wide > SIDE + GAP else -1.0
        if not words or left < 0:
            return
        painter.setPen(QColor(palette.quiet))
        place = QRectF(left, beside.top(), wide, beside.height())
        painter.drawText(place, int(Qt.AlignmentFlag.AlignTop), words)

    @staticmethod
    def _dimension(painter: QPainter, palette: Palette, start: float, end: float, y: float) -> None:
        painter.setPen(QPen(QColor(palette.text), 2))
        painter.drawLine(QLineF(start, y, end, y))
        for x, way in ((start, 1), (end, -1)):
            painter.setBrush(QColor(palette.text))
            back = x + way * 9
            painter.drawPolygon(
                QPolygonF([QPointF(x, y), QPointF(back, y - 4), QPointF(back, y + 4)])
            )

    def _supply(self, painter: QPainter, palette: Palette, body: QRectF, valve: str) -> None:
        """Draw bottle, line and valve: filled where it should be open, crossed where shut."""
        y, opened = body.center().y(), valve == OPEN
        high = min(body.height() + 2 * WALL, 64.0)
        bottle = QRectF(SIDE, y - high / 2, BOTTLE_PX, high)
        ink = palette.tone(Tone.MANDATORY).ink if opened else palette.quiet
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(palette.quiet), 2))
        painter.drawRoundedRect(bottle, 7, 7)
        painter.setPen(QColor(palette.text))
        painter.drawText(bottle, int(Qt.AlignmentFlag.AlignCenter), "N\u2082")
        painter.setPen(QPen(QColor(ink), 3 if opened else 2))
        painter.drawLine(QLineF(bottle.right(), y, body.left() - WALL, y))
        x = (bottle.right() + body.left() - WALL) / 2
        painter.setBrush(QColor(ink if opened else palette.panel))
        for way in (-1, 1):
            painter.drawPolygon(
                QPolygonF(
                    [
                        QPointF(x, y),
                        QPointF(x + way * VALVE_PX, y - VALVE_PX),
                        QPointF(x + way * VALVE_PX, y + VALVE_PX),
                    ]
                )
            )
        if not opened:
            painter.setPen(QPen(QColor(palette.text), 2))
            painter.drawLine(QLineF(x, y - VALVE_PX - 4, x, y + VALVE_PX + 4))
        painter.setPen(QColor(palette.text))
        left = bottle.right() + 2
        box = QRectF(left, y + VALVE_PX + 3, body.left() - WALL - left, soft(SMALL_PX + 6))
        painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), valve)
