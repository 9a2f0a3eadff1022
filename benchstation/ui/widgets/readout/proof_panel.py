"""Proof on screen: the filed unit at a glance, and a result that holds for a moment."""

from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, Qt, QTimer, Slot
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QSizePolicy, QVBoxLayout, QWidget

from benchstation.screens.model.elements import TraceView
from benchstation.screens.model.proof import FigureView, MomentView, ProofView
from benchstation.ui.shell.labels import BoxLabel, label, palette_of, set_role, set_wash, sized
from benchstation.ui.shell.layouts import across, down
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.readout.grid import PAD_PX, Grid
from benchstation.ui.widgets.readout.mark import Mark
from benchstation.ui.widgets.readout.primary_readout import MarkedLines, PrimaryReadout

if TYPE_CHECKING:
    from benchstation.ui.widgets.plots.trace import Trace

HOLD_MS = 1500
FIGURE_PX, BAR_PX, CAPTION_PX, WORDS_PX = 34, 12, 14, 13
VERDICT_SIZES, SMALL_SIZES = (30, 26, 22, 18, 14), (14, 13, 12, 11, 10, 9)
TRACES_PX = 96
SERIAL_SIZES, PAPER_SIZES, LABEL_PX = (19, 17, 15, 13, 11), (13, 12, 11, 10, 9, 8, 7), 140
MARGIN_SHARE = 0.12
NUMBER_SIZES, LEAST_UNIT_PX = (FIGURE_PX, 30, 27, 24, 21, 18), 12
FIGURE_SIZES, WRAP = (14, 13, 12, 11, 10, 9, 8, 7), int(Qt.TextFlag.TextWordWrap)


class Figure(QWidget):
    """A figure with the window that it was judged in; ``ends`` writes the window's ends below."""

    def __init__(self, *, ends: bool = False, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: FigureView | None = None
        self._ends = ends
        self._beside: FigureView | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.rescale()

    def rescale(self) -> None:
        """Take the height of the text size in force."""
        ends = WORDS_PX + 3 if self._ends else 0
        high = CAPTION_PX + 6 + FIGURE_PX + 8 + ends + 2 * WORDS_PX + 12
        self.setFixedHeight(px(high) + BAR_PX)

    def show_figure(self, figure: FigureView, beside: FigureView | None = None) -> None:
        """Show a figure; number and words are no larger than those of the one beside it may be."""
        self.shown, self._beside = figure, beside
        window = f", window {' to '.join(figure.ends)}" if figure.ends else ""
        self.setAccessibleName(
            f"{figure.caption} {figure.number} {figure.unit}{window}, {figure.words}"
        )
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw caption, number, window and words."""
        figure = self.shown
        if figure is None:
            return
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        top = 0.0
        high, middle = px(CAPTION_PX + 6), int(Qt.AlignmentFlag.AlignVCenter)
        box = QRectF(0, top, self.width(), high)
        painter.setFont(self._fitting(box, *(one.caption for one in self._both(figure))))
        painter.setPen(QColor(palette.quiet))
        painter.drawText(box, middle, figure.caption)
        top += high
        font = self._number_font(figure)
        painter.setFont(font)
        painter.setPen(QColor(palette.text))
        high = px(FIGURE_PX + 6)
        painter.drawText(QRectF(0, top, self.width(), high), middle, figure.number)
        left = QFontMetricsF(font).horizontalAdvance(figure.number) + 8
        beside = QRectF(left, top + px(4), self.width() - left, high - px(4))
        painter.setFont(self._fitting(beside, figure.unit))
        painter.setPen(QColor(palette.quiet))
        painter.drawText(beside, middle | WRAP, figure.unit)
        top += high
        self._window(painter, figure, top + 2)
        painter.setPen(QColor(palette.quiet))
        top += BAR_PX + 8
        if self._ends and figure.ends:
            self._write_ends(painter, figure, top - 4)
            top += px(WORDS_PX + 3)
        rest = QRectF(0, top, self.width(), self.height() - top)
        painter.setFont(self._fitting(rest, *(one.words for one in self._both(figure))))
        painter.drawText(rest, WRAP, figure.words)

    def _both(self, figure: FigureView) -> tuple[FigureView, ...]:
        return (figure,) if self._beside is None else (figure, self._beside)

    def _number_font(self, figure: FigureView) -> QFont:
        """Return the largest font that leaves the unit's words room beside the number."""
        small = QFontMetricsF(sized(self.font(), LEAST_UNIT_PX))

        def fits(font: QFont) -> bool:
            metrics = QFontMetricsF(font)
            return all(
                metrics.horizontalAdvance(one.number) + small.horizontalAdvance(word) + 9
                <= self.width()
                for one in self._both(figure)
                for word in one.unit.split() or [""]
            )

        fonts = [sized(self.font(), size, bold=True) for size in NUMBER_SIZES]
        return next((font for font in fonts if fits(font)), fonts[-1])

    def _fitting(self, box: QRectF, *texts: str) -> QFont:
        """Return the largest font in which each text stands whole in a box, wrapped if need be."""
        fonts = [sized(self.font(), size) for size in FIGURE_SIZES]

        def fits(font: QFont) -> bool:
            metrics = QFontMetricsF(font)
            room = QRectF(0, 0, box.width(), 10_000)
            high = max(metrics.boundingRect(room, WRAP, words).height() for words in texts)
            parts = [word for words in texts for word in words.split()]
            wide = max((metrics.horizontalAdvance(word) for word in parts), default=0.0)
            return high <= box.height() and wide <= box.width()

        return next((font for font in fonts if fits(font)), fonts[-1])

    def _window(self, painter: QPainter, figure: FigureView, top: float) -> None:
        """Draw the window, and where in it the value stands."""
        palette = palette_of(self)
        colours = palette.tone(figure.tone)
        painter.fillRect(QRectF(0, top, self.width(), BAR_PX), QColor(palette.well))
        left, right = self._at(figure, figure.low), self._at(figure, figure.high)
        painter.fillRect(QRectF(left, top, right - left, BAR_PX), QColor(colours.wash))
        painter.setPen(QPen(QColor(colours.ink), 2))
        for x in (left, right):
            painter.drawLine(round(x), round(top), round(x), round(top + BAR_PX))
        painter.setPen(QPen(QColor(palette.text), 4))
        x = round(self._at(figure, figure.value))
        painter.drawLine(x, round(top) - 2, x, round(top + BAR_PX) + 2)

    def _at(self, figure: FigureView, value: float) -> float:
        """Return where on the bar a value stands; what lies beyond it stands at its end."""
        span = (figure.high - figure.low) or 1.0
        low, high = figure.low - MARGIN_SHARE * span, figure.high + MARGIN_SHARE * span
        return min(1.0, max(0.0, (value - low) / (high - low))) * (self.width() - 2) + 1

    def _write_ends(self, painter: QPainter, figure: FigureView, top: float) -> None:
        """Write the window's ends below it, each on its own side."""
        painter.setFont(sized(self.font(), WORDS_PX))
        high = px(WORDS_PX + 3)
        sides = (
            (figure.low, Qt.AlignmentFlag.AlignLeft),
            (figure.high, Qt.AlignmentFlag.AlignRight),
        )
        for words, (value, side) in zip(figure.ends, sides, strict=True):
            x = self._at(figure, value)
            left = x if side == Qt.AlignmentFlag.AlignLeft else 0.0
            wide = self.width() - x if side == Qt.AlignmentFlag.AlignLeft else x
            painter.drawText(QRectF(left, top, wide, high), int(side), words)


def show_both(widgets: tuple[Figure, Figure], figures: tuple[FigureView, ...]) -> None:
    """Show two figures beside each other, in the same sizes."""
    for widget, figure, other in zip(widgets, figures, reversed(figures), strict=True):
        widget.show_figure(figure, other)


class ProofPanel(QWidget):
    """A filed unit: verdict, two figures in their windows, both traces, the set, its label."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self.shown: ProofView | None = None
        self.card = QFrame()
        set_role(self.card, "card")
        self.mark = Mark(44)
        self.verdict = BoxLabel(VERDICT_SIZES)
        self.standing = BoxLabel(SMALL_SIZES, bold=False)
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self.verdict, 3)
        words.addWidget(self.standing, 2)
        inside = across(self.card, (14, 8, 14, 8), 12)
        inside.addWidget(self.mark)
        inside.addLayout(words, 1)
        self.figures = (Figure(), Figure())
        self.lines = MarkedLines()
        self.label = QFrame()
        set_role(self.label, "sheet")
        paper = down(self.label, (12, 8, 12, 8), 2)
        self.serial, self.paper = BoxLabel(SERIAL_SIZES), BoxLabel(PAPER_SIZES, bold=False)
        for part, role in ((self.serial, "paper"), (self.paper, "paper")):
            set_role(part, role)
            part.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        paper.addWidget(self.serial, 1)
        paper.addWidget(self.paper, 4)
        self.label.setMinimumHeight(LABEL_PX)
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 6, 0, 0)
        self._grid.setHorizontalSpacing(16)
        self._grid.setVerticalSpacing(8)
        self._grid.addWidget(self.card, 0, 0)
        for column, figure in enumerate(self.figures, 1):
            self._grid.addWidget(figure, 0, column)
        top = Qt.AlignmentFlag.AlignTop
        self._grid.addWidget(self.lines, 2, 0, 1, 2, top)
        self._grid.addWidget(self.label, 2, 2)
        for column in range(3):
            self._grid.setColumnStretch(column, 1)
        self._grid.setRowStretch(1, 1)
        self.traces: list[Trace] = []
        self._row = across(spacing=12)
        self._grid.addLayout(self._row, 1, 0, 1, 3)
        self.hide()

    def show_proof(self, proof: ProofView | None) -> None:
        """Show a filed unit's proof, or nothing."""
        if proof is self.shown:
            return
        self.shown = proof
        self.setVisible(proof is not None)
        if proof is None:
            return
        self.mark.set_tone(proof.tone)
        self.verdict.show_text(proof.verdict)
        self.standing.setText(proof.standing)
        set_wash(self.card, proof.tone)
        show_both(self.figures, proof.figures)
        self.lines.show_lines(tuple((text, tone, "") for text, tone in proof.lines))
        serial, *rest = proof.label
        self.serial.show_text(serial)
        self.paper.show_text("\n".join(rest))
        self._show_traces(proof.traces)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Leave the traces out where there is no height for them: the record has them."""
        super().resizeEvent(event)
        self._fit()

    def rescale(self) -> None:
        """Show what there is height for at the text size in force."""
        self._fit()

    def _fit(self) -> None:
        """Show traces, and label, where the rest stands whole beside them."""
        left = self.height() - self.figures[0].height()
        for count, widget in enumerate(self.traces):
            there = self.shown is not None and count < len(self.shown.traces)
            widget.setVisible(there and left >= px(TRACES_PX) + LABEL_PX)
        self.label.setVisible(left >= LABEL_PX + 12)

    def _show_traces(self, traces: tuple[TraceView, ...]) -> None:
        while len(self.traces) < len(traces):
            from benchstation.ui.widgets.plots.trace import Trace

            self.traces.append(Trace())
            self._row.addWidget(self.traces[-1], 1)
        self._fit()
        for widget, trace in zip(self.traces, traces, strict=False):
            widget.show_trace(trace)


class MomentCard(QFrame):
    """A result that has just been judged: it holds in the number's place, and takes no key."""

    def __init__(self, hold_ms: int = HOLD_MS, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.shown: MomentView | None = None
        self._known: set[str] | None = None
        self._unit = ""
        self.title = label("", "title")
        self.title.setParent(self)
        self.readout = PrimaryReadout(self)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(hold_ms)
        self._timer.timeout.connect(self._end)
        self.hide()

    def follow(self, unit: str, moments: tuple[MomentView, ...]) -> bool:
        """Show the result that is new since the unit was last seen; say whether one is."""
        ids = {moment.id for moment in moments}
        known, self._known = self._known, ids
        same, self._unit = unit == self._unit, unit
        if not same:
            self._end()
        new = [m for m in moments if known is not None and same and m.id not in known]
        if not new:
            return False
        self.shown = new[-1]
        self.title.setText(self.shown.title)
        self.readout.show_hero(self.shown.big, self.shown.lines)
        self.setAccessibleName(f"{self.shown.title}: {self.shown.lines[0][0]}")
        self.show()
        self.raise_()
        self._timer.start()
        return True

    def place(self, grid: Grid, left: int, top: int, width: int, number_top: int) -> None:
        """Lie over heading and number, the number exactly where the step's own stands."""
        high = number_top + grid.readout + 6
        self.setGeometry(left, top, width, high)
        self.title.setGeometry(PAD_PX, 10, width - 2 * PAD_PX, grid.heading)
        self.readout.set_grid(grid)
        self.readout.setGeometry(PAD_PX, number_top, min(grid.inner, width), grid.readout)

    @Slot()
    def _end(self) -> None:
        self._timer.stop()
        self.shown = None
        self.hide()
