"""The top of a record: verdict and standing, two figures, who says so, measured with what."""

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFrame, QGridLayout, QVBoxLayout, QWidget

from benchstation.screens.model.elements import Tone, TraceView
from benchstation.screens.model.records import RecordFront
from benchstation.ui.shell.labels import BoxLabel, set_role, set_wash
from benchstation.ui.shell.layouts import across, clear, down
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.lists.said import Said
from benchstation.ui.widgets.readout.mark import Mark
from benchstation.ui.widgets.readout.proof_panel import (
    SMALL_SIZES,
    VERDICT_SIZES,
    Figure,
    show_both,
)

if TYPE_CHECKING:
    from benchstation.ui.widgets.plots.trace import Trace

LEAST_TRACE_PX, MOST_TRACE_PX, PEEK_PX = 118, 250, 26
"""A trace is never lower; below the traces the next heading peeks out, so that one scrolls."""


class Front(QWidget):
    """What is looked for first; it fills one screen where its words let it."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self.shown: RecordFront | None = None
        self.card = QFrame()
        set_role(self.card, "card")
        self.mark = Mark(34, grows=False)
        self.verdict, self.standing = BoxLabel(VERDICT_SIZES), BoxLabel(SMALL_SIZES, bold=False)
        self.amended = BoxLabel(SMALL_SIZES)
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self.verdict, 3)
        words.addWidget(self.standing, 2)
        words.addWidget(self.amended, 2)
        inside = across(self.card, (10, 6, 8, 6), 8)
        inside.addWidget(self.mark)
        inside.addLayout(words, 1)
        self.figures = (Figure(ends=True), Figure(ends=True))
        top = QGridLayout()
        top.setHorizontalSpacing(16)
        for column, widget in enumerate((self.card, *self.figures)):
            top.addWidget(widget, 0, column)
            top.setColumnStretch(column, 1)
        self.said, self.open_points = Said(), Said()
        self.measured_with = Said("Measured with")
        box = down(self, spacing=6)
        box.addLayout(top)
        for part in (self.said, self.open_points, self.measured_with):
            box.addWidget(part)
        self.traces: list[Trace] = []
        self._row = across(spacing=12)
        self.trace_place = clear()
        self.trace_place.setLayout(self._row)
        box.addWidget(self.trace_place)

    def show_front(self, front: RecordFront, traces: tuple[TraceView, ...]) -> None:
        """Show a record's front."""
        self.shown = front
        self.mark.set_tone(front.tone)
        self.verdict.show_text(front.verdict)
        self.standing.show_text(front.beside)
        self.amended.show_text(front.amended)
        self.amended.setVisible(bool(front.amended))
        set_wash(self.card, None if front.tone is Tone.QUIET else front.tone)
        show_both(self.figures, front.figures)
        self.said.show_lines(front.said)
        self.open_points.show_lines(front.open_points)
        self.measured_with.show_lines(front.measured_with)
        self._show_traces(traces)

    def fill(self, width: int, height: int) -> None:
        """Leave the traces what is left of this room."""
        self.trace_place.setMinimumHeight(0)
        self.trace_place.setMaximumHeight(0)
        layout = self.layout()
        if layout is None:
            return
        layout.invalidate()
        rest = layout.totalHeightForWidth(width)
        high = min(px(MOST_TRACE_PX), max(px(LEAST_TRACE_PX), height - rest - px(PEEK_PX)))
        self.trace_place.setFixedHeight(high if any(not t.isHidden() for t in self.traces) else 0)

    def _show_traces(self, traces: tuple[TraceView, ...]) -> None:
        from benchstation.ui.widgets.plots.trace import Trace

        while len(self.traces) < len(traces):
            self.traces.append(Trace())
            self._row.addWidget(self.traces[-1], 1)
        for count, widget in enumerate(self.traces):
            widget.setVisible(count < len(traces))
            if count < len(traces):
                widget.show_trace(traces[count])
