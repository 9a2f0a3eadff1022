"""One record, open: its terms, its traces, and where it hangs in the journal."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QWidget

from benchstation.screens.model.records import RecordDetail
from benchstation.ui.shell.labels import FitLabel, label, set_role, set_tone
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.forms.photo_field import Shelf
from benchstation.ui.widgets.readout.mark import Mark
from benchstation.ui.widgets.readout.terms import Terms

TRACE_PX, ANCHOR_SIZES = 240, (14, 12, 10, 9, 8)
EMPTY = (
    "Choose a unit at the left.\n\nIts whole record opens here: what went into it, by whom, "
    "measured with what, whether it was in tolerance, and both traces."
)


class Detail(QFrame):
    """The record that was chosen."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self.shown: RecordDetail | None = None
        box = down(self, (18, 14, 10, 10), 6)
        self.mark = Mark(24)
        self.title = label("", "title", wrap=True)
        self.decision = label("", "strong")
        head = QHBoxLayout()
        head.setSpacing(10)
        head.addWidget(self.title, 1)
        head.addWidget(self.mark)
        head.addWidget(self.decision)
        box.addLayout(head)
        self.subtitle = label("", "quiet", wrap=True)
        box.addWidget(self.subtitle)
        self.inner = clear()
        self._column = down(self.inner, (0, 4, 10, 0), 10)
        self.empty = label(EMPTY, "quiet", wrap=True)
        self._column.addWidget(self.empty)
        self.terms = Terms()
        self._column.addWidget(self.terms)
        self.traces: list[QWidget] = []
        self.photos = Shelf(columns=3)
        self._column.addWidget(self.photos)
        # A hash has no place where a line may break.
        self.anchor = FitLabel(ANCHOR_SIZES, bold=False, one_line_from=100)
        set_role(self.anchor, "raw")
        self.anchor.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._column.addWidget(self.anchor)
        self._column.addStretch(1)
        self.scroller = Scroller(self.inner, "the record")
        box.addWidget(self.scroller, 1)
        self._head = (self.mark, self.title, self.decision, self.subtitle)
        self.show_nothing()

    def show_nothing(self, words: str = EMPTY) -> None:
        """Show what belongs here."""
        self.shown = None
        for widget in (*self._head, self.terms, self.anchor, self.photos, *self.traces):
            widget.hide()
        set_role(self.empty, "quiet")
        self.empty.setText(words)
        self.empty.show()

    def show_detail(self, detail: RecordDetail) -> None:
        """Show a record."""
        self.shown = detail
        row = detail.row
        self.title.setText(row.serial)
        self.subtitle.setText("   ".join(p for p in (row.family, row.title, row.filed) if p))
        self.decision.setText(", ".join(part for part in (row.decision, row.state) if part))
        set_tone(self.decision, row.tone)
        self.mark.set_tone(row.tone)
        self.terms.show_groups(detail.groups)
        self.anchor.show_text(detail.anchor)
        self._show_traces(detail)
        self.photos.show_photos(detail.photos)
        for widget in self._head:
            widget.show()
        for part in (self.terms, self.anchor):
            part.setVisible(not detail.no_record)
        set_role(self.empty, "")
        self.empty.setText(detail.no_record)
        self.empty.setVisible(bool(detail.no_record))
        self.scroller.verticalScrollBar().setValue(0)

    def _show_traces(self, detail: RecordDetail) -> None:
        from benchstation.ui.widgets.plots.trace import Trace

        while len(self.traces) < len(detail.traces):
            trace = Trace()
            trace.setFixedHeight(TRACE_PX)
            self._column.insertWidget(self._column.indexOf(self.photos), trace)
            self.traces.append(trace)
        for count, widget in enumerate(self.traces):
            widget.setVisible(count < len(detail.traces))
            if count < len(detail.traces) and isinstance(widget, Trace):
                widget.show_trace(detail.traces[count])
