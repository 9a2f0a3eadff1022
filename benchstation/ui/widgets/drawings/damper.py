"""A unit drawn to scale: a section along its axis, every part in words and in its own pattern."""

import math
from dataclasses import dataclass

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.quantities.notation import significant
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, to_display
from benchstation.screens.model.damper import BEHIND as BEHIND
from benchstation.screens.model.damper import BODY as BODY
from benchstation.screens.model.damper import FLOATING as FLOATING
from benchstation.screens.model.damper import NITROGEN as NITROGEN
from benchstation.screens.model.damper import OIL as OIL
from benchstation.screens.model.damper import PISTON as PISTON
from benchstation.screens.model.damper import ROD as ROD
from benchstation.screens.model.specifications import DrawingView
from benchstation.ui.shell.labels import palette_of, sized
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import SMALL_PX, Palette
from benchstation.ui.widgets.drawings.dimension import Dimension as DimensionLine
from benchstation.ui.widgets.drawings.dimension import draw_dimension
from benchstation.ui.widgets.readout.lanes import tick_values
from benchstation.ui.widgets.readout.spread import spread

WALL, SIDE, ROW, LEAD, GAP = 5.0, 3.0, 20.0, 12.0, 12.0
TALLEST_BORE, LEAST_HEIGHT = 150.0, 96
WORDS_SIZES, RULER_SHARE = (SMALL_PX, 12, 11, 10, 9), 0.22
USUAL_REACH = 0.62
"""How far a rod usually stands out, as a share of the tube's length."""


@dataclass(frozen=True, slots=True)
class Label:
    """A word, its box, and the point of the part that a line leads to."""

    text: str
    box: QRectF
    point: QPointF
    long: float = 0.0
    """Of the ruler: its length in pixels, to the left of the point."""


class Damper(QWidget):
    """The drawing. Lengths along and across have one scale; only the wall's thickness has none."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: DrawingView | None = None
        self._reach = 0.0
        self.dimension: DimensionLine | None = None
        self._system = UnitSystem.METRIC
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setAccessibleName("the unit, drawn to scale")

    def show_drawing(self, view: DrawingView, system: UnitSystem) -> None:
        """Draw this unit; the scale stays the same while its rod moves."""
        if (view, system) == (self.shown, self._system):
            return
        old, reach = self.shown, max(view.rod_out, USUAL_REACH * view.length)
        same = old is not None and _tube(old) == _tube(view)
        self._reach = max(reach, self._reach) if same else reach
        self.shown, self._system = view, system
        self.setAccessibleDescription(view.caption)
        self.updateGeometry()
        self.update()

    def show_dimension(self, dimension: DimensionLine | None) -> None:
        """Show from where to where one figure is measured, or none."""
        if dimension != self.dimension:
            self.dimension = dimension
            self.update()

    def scale(self, width: float) -> float:
        """Return the pixels for a metre in this width."""
        view = self.shown
        if view is None:
            return 0.0
        room = width - 2 * (WALL + SIDE) - self.beside
        return float(min(room / (view.length + self._reach), TALLEST_BORE / view.bore))

    @property
    def beside(self) -> float:
        """Return the width kept free at the left, beside the unit."""
        return 0.0

    @property
    def middle(self) -> float:
        """Return the height of the unit's axis."""
        return self.height() / 2

    def hasHeightForWidth(self) -> bool:
        """Return True: the scale follows the width."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return the height in this width."""
        bore = self.shown.bore * self.scale(width) if self.shown is not None else 0.0
        return max(LEAST_HEIGHT, math.ceil(bore + 2 * (WALL + px(ROW) + LEAD)))

    def sizeHint(self) -> QSize:
        """Ask for a usual width."""
        return QSize(420, self.heightForWidth(max(self.width(), 240)))

    def parts(self) -> dict[str, QRectF]:
        """Return the place of every part in pixels, by its word."""
        view = self.shown
        if view is None:
            return {}
        scale, left = self.scale(self.width()), SIDE + WALL + self.beside
        middle = self.middle

        def part(start: float, end: float, high: float) -> QRectF:
            tall = high * scale
            return QRectF(left + start * scale, middle - tall / 2, (end - start) * scale, tall)

        bore = view.bore
        return {
            BODY: part(0.0, view.length, bore),
            NITROGEN: part(0.0, view.floating_from, bore),
            FLOATING: part(view.floating_from, view.floating_to, bore),
            OIL: part(view.floating_to, view.piston_from, bore),
            PISTON: part(view.piston_from, view.piston_to, bore),
            BEHIND: part(view.piston_to, view.length, bore),
            ROD: part(view.piston_to, view.length + view.rod_out, view.rod),
        }

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the parts, then their words."""
        parts = self.parts()
        if not parts:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self._words_font())
        self._body(painter, palette, parts)
        for name, fill, ink, pattern in (
            (NITROGEN, palette.gas, palette.quiet, Qt.BrushStyle.Dense7Pattern),
            (OIL, palette.oil, palette.oil_ink, Qt.BrushStyle.HorPattern),
            (BEHIND, palette.oil, palette.oil_ink, Qt.BrushStyle.HorPattern),
            (FLOATING, palette.metal, palette.ground, Qt.BrushStyle.BDiagPattern),
            (PISTON, palette.metal, palette.ground, Qt.BrushStyle.FDiagPattern),
            (ROD, palette.metal, palette.metal, Qt.BrushStyle.SolidPattern),
        ):
            box = parts[name]
            painter.fillRect(box, QColor(fill))
            painter.fillRect(box, QBrush(QColor(ink), pattern))
            if name in (FLOATING, PISTON, ROD):
                painter.setPen(QPen(QColor(palette.text), 1.5))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRect(box)
        for label in self.labels():
            self._draw_label(painter, palette, label)
        if self.dimension is not None and self.shown is not None:
            draw_dimension(painter, palette, self.shown, self.dimension, parts[BODY])

    @staticmethod
    def _body(painter: QPainter, palette: Palette, parts: dict[str, QRectF]) -> None:
        tube, rod = parts[BODY], parts[ROD]
        outside = tube.adjusted(-WALL, -WALL, WALL, WALL)
        painter.fillRect(outside, QColor(palette.quiet))
        painter.fillRect(tube, QColor(palette.well))
        hole = QRectF(tube.right(), rod.top(), WALL, rod.height())
        painter.fillRect(hole, QColor(palette.panel))

    def labels(self) -> list[Label]:
        """Return the word of every part, and last that of the ruler."""
        parts = self.parts()
        if not parts:
            return []
        tube, rod, ruler = parts[BODY], parts[ROD], self._ruler(parts[BODY])
        out = rod.right() - tube.right()
        at_rod = rod.right() - out / 2 if out > 2 * WALL else (rod.left() + tube.right()) / 2
        above = {
            NITROGEN: _inside(parts[NITROGEN], 0.3),
            OIL: _inside(parts[OIL], 0.3),
            BODY: QPointF(tube.right() - 4 * WALL, tube.top() - WALL / 2),
            ROD: QPointF(at_rod, rod.center().y()),
        }
        below = {name: _inside(parts[name], 0.75) for name in (FLOATING, PISTON)}
        row = self._row(above, tube.top() - WALL - LEAD - px(ROW), self.width() - SIDE)
        row += self._row(below, tube.bottom() + WALL + LEAD, ruler.box.left() - GAP)
        return [*row, ruler]

    def _row(self, points: dict[str, QPointF], top: float, right: float) -> list[Label]:
        """Put words in a row, each as near as can be to the point that its line leads to."""
        words = sorted(points, key=lambda word: points[word].x())
        sizes = [self._wide(word) for word in words]
        centres = spread([points[word].x() for word in words], sizes, SIDE, right, GAP)
        return [
            Label(word, QRectF(centre - size / 2, top, size, px(ROW)), points[word])
            for word, centre, size in zip(words, centres, sizes, strict=True)
        ]

    def _wide(self, words: str) -> float:
        return QFontMetricsF(self._words_font()).horizontalAdvance(words) + 2

    def _words_font(self) -> QFont:
        """Return the largest font in which the words of either row stand beside each other."""
        above, below = (NITROGEN, OIL, BODY, ROD), (FLOATING, PISTON, "100 mm")
        for size in WORDS_SIZES:
            font = sized(self.font(), size)
            metrics = QFontMetricsF(font)
            need = max(
                sum(metrics.horizontalAdvance(word) + 2 + GAP for word in row) + extra
                for row, extra in ((above, 0.0), (below, RULER_SHARE * self.width()))
            )
            if need <= self.width() - 2 * SIDE:
                break
        return font

    def _ruler(self, tube: QRectF) -> Label:
        """Return a round length at the right below, to measure by; its point is its right end."""
        view = self.shown
        assert view is not None
        shown = to_display(view.length, Dimension.LENGTH, self._system)
        step = tick_values(0.0, shown, 5)[1]
        long = step / shown * view.length * self.scale(self.width())
        words = f"{significant(step, 6)} {display_unit(Dimension.LENGTH, self._system)}"
        right, top = self.width() - SIDE - 1, tube.bottom() + WALL + LEAD
        wide = self._wide(words)
        box = QRectF(right - long - wide - 8, top, wide, px(ROW))
        return Label(words, box, QPointF(right, top + px(ROW) / 2), long)

    def _draw_label(self, painter: QPainter, palette: Palette, label: Label) -> None:
        end = label.point
        if label.long:
            painter.setPen(QPen(QColor(palette.quiet), 1.5))
            start = end - QPointF(label.long, 0)
            painter.drawLine(QLineF(start, end))
            for x in (start.x(), end.x()):
                painter.drawLine(QLineF(x, end.y() - 4, x, end.y() + 4))
        else:
            ink, box = QColor(palette.text), label.box
            painter.setPen(QPen(ink, 1.2))
            base = box.top() if box.top() > end.y() else box.bottom()
            painter.drawLine(QLineF(QPointF(box.center().x(), base), end))
            painter.setBrush(ink)
            painter.drawEllipse(end, 2.5, 2.5)
        painter.drawText(label.box, Qt.AlignmentFlag.AlignCenter, label.text)


def _tube(view: DrawingView) -> tuple[float, float, float]:
    return view.bore, view.length, view.rod


def _inside(box: QRectF, share: float) -> QPointF:
    """Return a point in the middle of a part, this share down from its top."""
    return QPointF(box.center().x(), box.top() + share * box.height())
