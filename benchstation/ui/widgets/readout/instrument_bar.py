"""The guard strip: scale and pressure, on every page, never covered."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetrics,
    QFontMetricsF,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QSizePolicy, QWidget

from benchstation.screens.model.bench import BenchView, ReadingView
from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import (
    FitLabel,
    even_digits,
    frame,
    palette_of,
    set_tone,
    sized,
    widest_part,
)
from benchstation.ui.shell.layouts import across, down
from benchstation.ui.shell.text_scale import percent, px, soft
from benchstation.ui.shell.theme import BODY_PX, SMALL_PX, STRIP_PX
from benchstation.ui.widgets.readout.mark import paint_mark, paint_normal, spoken
from benchstation.ui.widgets.readout.small_reading import SmallReading

HEIGHT, MARK_PX, WORDS_ROOM = 84, 30, 110
NUMBER_ROOM = "-0000.0"
WORDS_SIZES, PERSON_SIZES = (SMALL_PX, 13, 12, 11), (19, 17, 15, 13, 11)
PLACE_SIZES = (SMALL_PX, 13, 12, 10, 9, 8)
SIDE_SHARE, NARROW_SHARE = 0.27, 0.225


class Reading(QWidget):
    """One instrument: mark, title, number, unit, words. A stale number is struck through."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: ReadingView | None = None
        self._needed: tuple[object, ...] = ()
        self._need = 0
        self._words_for: tuple[object, ...] = ()
        self._words_in = QFont()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.rescale()

    def rescale(self) -> None:
        """Take the height of the text size in force."""
        self.setFixedHeight(soft(HEIGHT))
        self.update()

    def show_reading(self, reading: ReadingView) -> None:
        """Show a reading; does nothing when it is the one that stands there."""
        if reading == self.shown:
            return
        self.shown = reading
        self.setAccessibleName(reading.title)
        self.setAccessibleDescription(", ".join(self.spoken()))
        self.update()

    def spoken(self) -> list[str]:
        """Return the reading in words: value, health, age."""
        return [] if self.shown is None else spoken(self.shown)

    def _font(self, size: float, *, bold: bool = False) -> QFont:
        font = even_digits(QFont(self.font()))
        font.setPixelSize(px(size))
        font.setBold(bold)
        return font

    def need(self) -> int:
        """Return the width at which the words have room, so that the readings share by it."""
        unit = self.shown.unit if self.shown is not None else ""
        key = unit, percent(), self.font().key()
        if key != self._needed:
            self._needed = key
            self._need = round(self._words_left(unit, "") + px(WORDS_ROOM))
        return self._need

    def _words_left(self, unit: str, number: str) -> float:
        """Return where the words begin, which no digit that comes or goes shall move."""
        big = QFontMetricsF(self._font(self._number_px(), bold=True))
        usual = max(big.horizontalAdvance(t) for t in (number, NUMBER_ROOM[:5]))
        body = QFontMetricsF(self._font(BODY_PX)).horizontalAdvance(unit)
        return soft(MARK_PX) + 14.0 + usual + 8 + body + 18

    def _number_px(self) -> float:
        """Return the size of the number: it grows half as much as words do."""
        return STRIP_PX * (1 + 100 / percent()) / 2

    def sizeHint(self) -> QSize:
        """Ask for number, unit and words side by side."""
        return QSize(px(440), soft(HEIGHT))

    def minimumSizeHint(self) -> QSize:
        """Ask for number and unit."""
        return QSize(min(px(330), self.need() - px(WORDS_ROOM) // 2), soft(HEIGHT))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        reading = self.shown
        if reading is None:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if reading.tone in (Tone.DANGER, Tone.CAUTION):
            # The same fill as its alarm: who looks up from that finds the reading.
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(palette.tone(reading.tone).wash))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(-2, 3, -2, -3), 8, 8)
        mark = QRectF(2, soft(12), soft(MARK_PX), soft(MARK_PX))
        if reading.tone is Tone.NORMAL:
            paint_normal(painter, mark, palette)
        else:
            paint_mark(painter, mark, reading.tone, palette)
        left = soft(MARK_PX) + 14.0
        title = QRectF(left, 3, self.width() - left, px(24))
        align = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
        painter.setFont(self._font(SMALL_PX))
        painter.setPen(QColor(palette.quiet))
        painter.drawText(title, align, reading.title)
        big = self._font(self._number_px(), bold=True)
        base, metrics = float(soft(70)), QFontMetricsF(big)
        strong = reading.tone in (Tone.DANGER, Tone.CAUTION)
        ink = palette.tone(reading.tone).ink if strong else palette.text
        painter.setFont(big)
        painter.setPen(QColor(palette.faded if reading.stale else ink))
        painter.drawText(QPointF(left, base), reading.number)
        width = metrics.horizontalAdvance(reading.number)
        if reading.stale:
            painter.setPen(QPen(QColor(palette.text), 4))
            middle = base - metrics.tightBoundingRect("0").height() / 2
            painter.drawLine(QPointF(left - 3, middle), QPointF(left + width + 3, middle))
        painter.setFont(self._font(BODY_PX))
        painter.setPen(QColor(palette.quiet))
        unit_left = left + width + 8
        painter.drawText(QPointF(unit_left, base), reading.unit)
        self._words(painter)

    def _lines(self) -> list[str]:
        reading = self.shown
        if reading is None:
            return []
        old = [f"stale, {reading.age}" if reading.age else "stale"] if reading.stale else []
        return [*old, *reading.words]

    def _words_box(self) -> QRectF:
        assert self.shown is not None
        left = self._words_left(self.shown.unit, self.shown.number)
        return QRectF(left, 5, max(0.0, self.width() - left - 6), soft(HEIGHT) - 10)

    def words_fit(self) -> bool:
        """Return True when number and words stand whole."""
        return self._fits(self._lines(), self._words_box(), self._words_font())

    def _words(self, painter: QPainter) -> None:
        reading, palette = self.shown, palette_of(self)
        assert reading is not None
        lines, box = self._lines(), self._words_box()
        painter.setFont(self._words_font())
        troubled = reading.tone in (Tone.DANGER, Tone.CAUTION) or reading.stale
        painter.setPen(QColor(palette.text if troubled else palette.quiet))
        flags = int(Qt.AlignmentFlag.AlignVCenter) | int(Qt.TextFlag.TextWordWrap)
        painter.drawText(box, flags, "\n".join(lines))

    def _words_font(self) -> QFont:
        """Return the largest font in which the words stand whole in their box."""
        lines, box = self._lines(), self._words_box()
        key = lines, box.width(), percent(), self.font().key()
        if key != self._words_for:
            fonts = [self._font(size) for size in WORDS_SIZES]
            fitting = (font for font in fonts if self._fits(lines, box, font))
            self._words_for, self._words_in = key, next(fitting, fonts[-1])
        return self._words_in

    @staticmethod
    def _fits(lines: list[str], box: QRectF, font: QFont) -> bool:
        metrics, width = QFontMetrics(font), round(box.width())
        flags = int(Qt.TextFlag.TextWordWrap)
        high = metrics.boundingRect(0, 0, width, 10_000, flags, "\n".join(lines)).height()
        return high <= box.height() and all(widest_part(x, metrics) <= width for x in lines)


class InstrumentBar(QWidget):
    """All readings, and who stands where and when."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        outer = down(self)
        bar = frame("bar")
        outer.addWidget(bar)
        row = across(bar, (14, 0, 18, 0), 10)
        self._readings = QHBoxLayout()
        self._readings.setSpacing(14)
        row.addLayout(self._readings, 1)
        self._side = QWidget()
        side = down(self._side, spacing=0)
        side.addStretch(1)
        self.person = FitLabel(PERSON_SIZES, bold=False, one_line_from=0, most_lines=1)
        self.place, self.around = (
            FitLabel(PLACE_SIZES, bold=False, one_line_from=0, most_lines=2) for _ in range(2)
        )
        for part in (self.place, self.around):
            set_tone(part, Tone.QUIET)
        for part in (self.person, self.place, self.around):
            part.setAlignment(Qt.AlignmentFlag.AlignRight)
            side.addWidget(part)
        side.addStretch(1)
        row.addWidget(self._side)
        self.readings: list[Reading] = []
        self.beside: list[SmallReading] = []
        self._beside = QGridLayout()
        self._beside.setSpacing(0)
        row.insertLayout(1, self._beside)
        self.rescale()

    def rescale(self) -> None:
        """Take the height of the text size in force."""
        self.setFixedHeight(soft(HEIGHT))
        for small in self.beside:
            small.rescale()
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Leave the readings their room."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """Return who, where and when what they need, but no more than their share."""
        small = QFontMetrics(sized(self.font(), SMALL_PX))
        large = QFontMetrics(sized(self.font(), PERSON_SIZES[0]))
        need = [small.horizontalAdvance(part.text()) for part in (self.place, self.around)]
        need.append(large.horizontalAdvance(self.person.text()))
        share = SIDE_SHARE if percent() == 100 else NARROW_SHARE
        self._side.setFixedWidth(max(1, min(max(need) + 4, round(share * self.width()))))

    def _show_beside(self, readings: list[ReadingView]) -> None:
        """Show what the step does not rest on, two above each other."""
        while len(self.beside) < len(readings):
            self.beside.append(SmallReading(self))
            column, row = divmod(len(self.beside) - 1, 2)
            self._beside.addWidget(self.beside[-1], row, column)
        for count, widget in enumerate(self.beside):
            widget.setVisible(count < len(readings))
        for widget, reading in zip(self.beside, readings, strict=False):
            widget.show_reading(reading)

    def show_view(self, view: BenchView) -> None:
        """Show the readings of a moment."""
        large = [reading for reading in view.strip if not reading.beside]
        while len(self.readings) < len(large):
            self.readings.append(Reading(self))
            self._readings.addWidget(self.readings[-1], 1)
        for count, widget in enumerate(self.readings):
            widget.setVisible(count < len(large))
        for count, (widget, reading) in enumerate(zip(self.readings, large, strict=False)):
            widget.show_reading(reading)
            self._readings.setStretch(count, widget.need())
        self._show_beside([reading for reading in view.strip if reading.beside])
        self.person.show_text(view.person)
        place = "   ".join(part for part in (view.shop, view.bench) if part)
        around = "   ".join(part for part in (view.clock, view.surroundings) if part)
        if (place, around) != (self.place.text(), self.around.text()):
            self.place.show_text(place)
            self.around.show_text(around)
            self._fit()
