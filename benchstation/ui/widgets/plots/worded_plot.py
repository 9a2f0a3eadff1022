"""A plot whose lines end in their words: drawn anew in another text size or light."""

from collections.abc import Sequence
from typing import Any

import pyqtgraph as pg
from PySide6.QtCore import QEvent
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget

from benchstation.ui.shell.labels import sized
from benchstation.ui.shell.layouts import down
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.plots.plot import TICK_PX, restyle, still_plot
from benchstation.ui.widgets.readout.spread import spread

LINE_PX = TICK_PX + 3


class WordedPlot(QWidget):
    """What such plots have in common; each draws its own lines."""

    least_px = 0
    """How low it may become at the usual text size."""

    def __init__(self, title: QLabel, spacing: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        # What a plot would like to have is what it has now; it takes what is left instead.
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        self.setMinimumHeight(px(self.least_px))
        box = down(self, spacing=spacing)
        self.title = title
        box.addWidget(self.title)
        self.plot = still_plot(self)
        box.addWidget(self.plot, 1)
        self.words: list[tuple[Any, float, float]] = []
        """The words at the lines' ends, and where each line ends."""
        self.items: list[Any] = []
        self.plot.getPlotItem().vb.sigResized.connect(self.place_words)
        restyle(self.plot, self)

    def hasHeightForWidth(self) -> bool:
        """Return False: a title on two lines takes its room from the plot."""
        return False

    def draw(self) -> None:
        """Draw all anew."""
        raise NotImplementedError

    def place_words(self) -> None:
        """Leave room for the words at the right, and keep them from covering each other."""
        raise NotImplementedError

    def add(self, made: Any) -> None:
        """Add what is drawn; it does not count for the range."""
        self.plot.getPlotItem().addItem(made, ignoreBounds=True)
        self.items.append(made)

    def add_words(self, words: str, ink: str, x: float, y: float) -> None:
        """Add the words of a line that ends there."""
        text = pg.TextItem("", color=ink, anchor=(0, 0.5))
        # As plain text: a name may hold what looks like markup.
        text.setPlainText(words)
        text.setFont(sized(self.font(), TICK_PX))
        self.add(text)
        self.words.append((text, x, y))

    def clear(self) -> None:
        """Take away what was drawn."""
        for old in self.items:
            self.plot.getPlotItem().removeItem(old)
        self.items, self.words = [], []

    def words_px(self) -> int:
        """Return how wide the longest words at the lines' ends are."""
        metrics = QFontMetrics(sized(self.font(), TICK_PX))
        texts = (text.toPlainText() for text, _, _ in self.words)
        return max((metrics.horizontalAdvance(text) for text in texts), default=0)

    def set_words_apart(self, gap: float) -> None:
        """Put each line's words behind its end, as near to its height as the others let it."""
        box = self.plot.getPlotItem().vb
        height = box.height()
        low, high = box.viewRange()[1]
        per_pixel = (high - low) / max(1.0, height)
        ordered: Sequence[tuple[Any, float, float]] = sorted(self.words, key=lambda word: -word[2])
        wanted = [(high - y) / per_pixel for _, _, y in ordered]
        centres = spread(wanted, [float(px(LINE_PX))] * len(ordered), 0.0, height, 0.0)
        for (text, x, _), centre in zip(ordered, centres, strict=True):
            text.setPos(x + gap, high - centre * per_pixel)

    def rescale(self) -> None:
        """Draw anew in the text size in force."""
        self.setMinimumHeight(px(self.least_px))
        restyle(self.plot, self)
        self.draw()

    def changeEvent(self, event: QEvent) -> None:
        """Take on another light."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.StyleChange:
            restyle(self.plot, self)
            self.draw()
