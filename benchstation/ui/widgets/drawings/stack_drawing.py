"""A disc stack from the side: diameters to one scale, thicknesses to a larger one that it names.

Beside a specified stack it is a half section: left of the axis as specified, right as entered.
"""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.quantities.notation import fixed
from benchstation.screens.model.elements import DiscView, StackView, Tone
from benchstation.ui.shell.labels import palette_of, sized
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import SMALL_PX, Palette

LEAST_HEIGHT, PISTON_PX, FOOT_PX, WORDS_PX, LEAD_PX = 150, 22.0, 22.0, 132.0, 10.0
ROW_PX, MOST_TIMES = 17.0, 40.0
SIGNS = {"same": "", "added": "+ ", "changed": "≠ "}


class StackDrawing(QWidget):
    """The piston at the top, the discs below it in their order."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._view: StackView | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(220, LEAST_HEIGHT)
        self.setAccessibleName("the disc stack from the side")

    def show_stack(self, view: StackView) -> None:
        """Draw this stack."""
        if view == self._view:
            return
        self._view = view
        self.setAccessibleDescription("; ".join(words for words, _ in view.lines))
        self.setMinimumHeight(
            max(LEAST_HEIGHT, round(PISTON_PX + FOOT_PX + px(ROW_PX) * len(view.discs) + 8))
        )
        self.update()

    def sizeHint(self) -> QSize:
        """Ask for a usual size."""
        return QSize(300, max(LEAST_HEIGHT, self.minimumHeight()))

    def scales(self) -> tuple[float, float]:
        """Return pixels for a metre across, and for a metre of thickness."""
        view = self._view
        if view is None or view.widest <= 0:
            return 0.0, 0.0
        across = (self.width() - px(WORDS_PX) - LEAD_PX) / view.widest
        high = max(_height(view.discs), _height(view.specified))
        room = self.height() - PISTON_PX - FOOT_PX
        return across, min(room / high, MOST_TIMES * across) if high > 0 else across

    def places(self) -> list[tuple[DiscView, QRectF]]:
        """Return every row of discs and where it is drawn."""
        view = self._view
        if view is None:
            return []
        return self._piled(view.discs, 0.0 if view.specified else -1.0, 1.0)

    def specified_places(self) -> list[tuple[DiscView, QRectF]]:
        """Return every row of the specified discs and where it is drawn: left of the axis."""
        return self._piled(self._view.specified, -1.0, 0.0) if self._view is not None else []

    def _piled(
        self, discs: tuple[DiscView, ...], left: float, right: float
    ) -> list[tuple[DiscView, QRectF]]:
        """Pile discs below the piston, between these shares of their radius about the axis."""
        across, along = self.scales()
        if self._view is None or across <= 0:
            return []
        middle, top = across * self._view.widest / 2, PISTON_PX
        found = []
        for disc in discs:
            radius, high = disc.outer * across / 2, disc.thickness * disc.count * along
            wide = (right - left) * radius
            found.append((disc, QRectF(middle + left * radius, top, wide, high)))
            top += high
        return found

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw piston, discs, hub and words."""
        view = self._view
        across, along = self.scales()
        if view is None or across <= 0:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(sized(self.font(), SMALL_PX))
        middle = across * view.widest / 2
        piston = QRectF(0, 0, across * view.widest, PISTON_PX)
        painter.fillRect(piston, QColor(palette.metal))
        painter.fillRect(piston, QBrush(QColor(palette.ground), Qt.BrushStyle.FDiagPattern))
        places, beside = self.places(), self.specified_places()
        self._word(painter, palette.quiet, piston.center().y(), "piston")
        last = max((place.bottom() for _, place in (*places, *beside)), default=PISTON_PX)
        if view.hub > 0:
            low = min(last + 8, self.height() - FOOT_PX)
            hub = QRectF(middle - view.hub * across / 2, 0, view.hub * across, low)
            painter.fillRect(hub, QColor(palette.edge))
        for disc, place in places:
            self._disc(painter, palette, disc, place)
        for disc, place in beside:
            self._outline(painter, palette, disc, place)
        self._words(painter, palette, places)
        if beside:
            pen = QPen(QColor(palette.text), 1, Qt.PenStyle.DashDotLine)
            painter.setPen(pen)
            painter.drawLine(QPointF(middle, 0), QPointF(middle, self.height() - FOOT_PX))
            for words, left in (("specified", 4.0), ("entered", middle + 4)):
                painter.setPen(QColor(palette.text))
                box = QRectF(left, 0, middle - 8, PISTON_PX)
                painter.fillRect(box.adjusted(0, 3, 0, -3), QColor(palette.panel))
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)
        if along > across and (places or beside):
            painter.setPen(QColor(palette.quiet))
            status_bar = QRectF(0, self.height() - FOOT_PX, self.width(), FOOT_PX)
            words = f"thickness drawn {fixed(along / across, 0)} ×"
            painter.drawText(status_bar, int(Qt.AlignmentFlag.AlignVCenter), words)

    def _disc(self, painter: QPainter, palette: Palette, disc: DiscView, place: QRectF) -> None:
        colours = palette.tone(Tone.PLAIN if disc.mark == "same" else Tone.CAUTION)
        painter.fillRect(place, QColor(colours.fill))
        if disc.mark != "same":
            sign = QColor(colours.sign)
            painter.fillRect(place, QBrush(sign, Qt.BrushStyle.BDiagPattern))
        painter.setPen(QPen(QColor(palette.ground), 1))
        for count in range(disc.count + 1):
            y = place.top() + place.height() * count / disc.count
            painter.drawLine(QPointF(place.left(), y), QPointF(place.right(), y))

    @staticmethod
    def _outline(painter: QPainter, palette: Palette, disc: DiscView, place: QRectF) -> None:
        painter.fillRect(place, QColor(palette.well))
        painter.setPen(QPen(QColor(palette.quiet), 1))
        for count in range(disc.count + 1):
            y = place.top() + place.height() * count / disc.count
            painter.drawLine(QPointF(place.left(), y), QPointF(place.right(), y))
        painter.drawLine(place.topLeft(), place.bottomLeft())

    def _words(
        self, painter: QPainter, palette: Palette, places: list[tuple[DiscView, QRectF]]
    ) -> None:
        """Write each row's size at its height, moved down where rows are thin."""
        row = px(ROW_PX)
        low = PISTON_PX + row / 2
        rest = len(places)
        for disc, place in places:
            most = self.height() - FOOT_PX - row * (rest - 0.5)
            y = min(max(place.center().y(), low), max(most, low))
            low, rest = y + row, rest - 1
            tone = Tone.PLAIN if disc.mark == "same" else Tone.CAUTION
            ink = palette.tone(tone).ink
            start = QPointF(place.right() + 2, place.center().y())
            painter.setPen(QPen(QColor(palette.line), 1))
            painter.drawLine(start, QPointF(self._left() - 3, y))
            self._word(painter, ink, y, f"{SIGNS[disc.mark]}{size_of(disc)}")

    def _left(self) -> float:
        return self.width() - px(WORDS_PX)

    def _word(self, painter: QPainter, ink: str, y: float, words: str) -> None:
        painter.setPen(QColor(ink))
        metrics = QFontMetricsF(painter.font())
        shown = metrics.elidedText(words, Qt.TextElideMode.ElideRight, px(WORDS_PX))
        painter.drawText(QPointF(self._left(), y + metrics.capHeight() / 2), shown)


def size_of(disc: DiscView) -> str:
    """Return count, diameter and thickness in mm."""
    outer = fixed(disc.outer * 1e3, 2).rstrip("0").rstrip(".")
    return f"{disc.count} of {outer} × {fixed(disc.thickness * 1e3, 2)}"


def _height(discs: tuple[DiscView, ...]) -> float:
    return sum(disc.thickness * disc.count for disc in discs)
