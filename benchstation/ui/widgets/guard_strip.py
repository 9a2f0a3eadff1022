"""The guard strip: scale and pressure, on every page, never covered."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from benchstation.bench_view import BenchView, ReadingView, Tone
from benchstation.ui.theme import BODY_PX, SMALL_PX, STRIP_PX
from benchstation.ui.widgets.labels import even_digits, frame, label, palette_of
from benchstation.ui.widgets.mark import SPOKEN, paint_mark

HEIGHT, MARK_PX = 84, 30
NUMBER_ROOM = "-0000.0"


class Reading(QWidget):
    """One instrument: mark, title, number, unit, words. A stale number is struck through."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: ReadingView | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFixedHeight(HEIGHT)

    def show_reading(self, reading: ReadingView) -> None:
        """Show a reading; does nothing when it is the one that stands there."""
        if reading == self.shown:
            return
        self.shown = reading
        self.setAccessibleName(reading.title)
        self.setAccessibleDescription(", ".join(self.spoken()))
        self.update()

    def spoken(self) -> list[str]:
        """Say the whole reading in words: value, health, age."""
        reading = self.shown
        if reading is None:
            return []
        said = [f"{reading.number} {reading.unit}", SPOKEN[reading.tone], *reading.words]
        if reading.stale:
            said.append(f"stale, {reading.age}" if reading.age else "stale")
        return [word for word in said if word]

    def _font(self, size: int, *, bold: bool = False) -> QFont:
        font = even_digits(QFont(self.font()))
        font.setPixelSize(size)
        font.setBold(bold)
        return font

    def sizeHint(self) -> QSize:
        """Ask for number, unit and words side by side."""
        return QSize(440, HEIGHT)

    def minimumSizeHint(self) -> QSize:
        """Ask for number and unit."""
        return QSize(330, HEIGHT)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw it."""
        reading = self.shown
        if reading is None:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint_mark(painter, QRectF(2, 12, MARK_PX, MARK_PX), reading.tone, palette)
        left = MARK_PX + 14.0
        title = QRectF(left, 6, self.width() - left, 22)
        align = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
        painter.setFont(self._font(SMALL_PX))
        painter.setPen(QColor(palette.quiet))
        painter.drawText(title, align, reading.title)
        big = self._font(STRIP_PX, bold=True)
        base, metrics = 70.0, QFontMetricsF(big)
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
        unit = painter.fontMetrics().horizontalAdvance(reading.unit)
        usual = left + metrics.horizontalAdvance(NUMBER_ROOM[:5]) + 8 + unit
        self._words(painter, max(unit_left + unit, usual) + 18)

    def _words(self, painter: QPainter, left: float) -> None:
        reading, palette = self.shown, palette_of(self)
        assert reading is not None
        lines = list(reading.words)
        if reading.stale:
            lines.insert(0, f"stale, {reading.age}" if reading.age else "stale")
        painter.setFont(self._font(SMALL_PX))
        box = QRectF(left, 10, max(0.0, self.width() - left - 6), HEIGHT - 16)
        troubled = reading.tone in (Tone.DANGER, Tone.CAUTION) or reading.stale
        painter.setPen(QColor(palette.text if troubled else palette.quiet))
        flags = int(Qt.AlignmentFlag.AlignVCenter) | int(Qt.TextFlag.TextWordWrap)
        painter.drawText(box, flags, "\n".join(lines))


class GuardStrip(QWidget):
    """All readings, and who stands where and when."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        bar = frame("bar")
        outer.addWidget(bar)
        row = QHBoxLayout(bar)
        row.setContentsMargins(14, 0, 18, 0)
        row.setSpacing(10)
        self._readings = QHBoxLayout()
        self._readings.setSpacing(14)
        row.addLayout(self._readings, 1)
        side = QVBoxLayout()
        side.setSpacing(1)
        side.addStretch(1)
        self.person = label("", "large")
        self.place = label("", "small")
        self.around = label("", "small")
        for part in (self.person, self.place, self.around):
            part.setAlignment(Qt.AlignmentFlag.AlignRight)
            side.addWidget(part)
        side.addStretch(1)
        row.addLayout(side)
        self.readings: list[Reading] = []
        self.setFixedHeight(HEIGHT)

    def show_view(self, view: BenchView) -> None:
        """Show the readings of a moment."""
        while len(self.readings) < len(view.strip):
            self.readings.append(Reading(self))
            self._readings.addWidget(self.readings[-1], 1)
        for count, widget in enumerate(self.readings):
            widget.setVisible(count < len(view.strip))
        for widget, reading in zip(self.readings, view.strip, strict=False):
            widget.show_reading(reading)
        self.person.setText(view.person)
        place = "   ".join(part for part in (view.shop, view.bench) if part)
        self.place.setText(place)
        around = "   ".join(part for part in (view.clock, view.surroundings) if part)
        self.around.setText(around)
