"""One record, open: its front, its steps, what came later, and all figures in full."""

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.records import RecordDetail
from benchstation.ui.shell.labels import FitLabel, label, set_role
from benchstation.ui.shell.layouts import across, clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.forms.photo_field import Shelf
from benchstation.ui.widgets.lists.record_front import Front
from benchstation.ui.widgets.lists.timeline import Timeline
from benchstation.ui.widgets.readout.mark import Mark
from benchstation.ui.widgets.readout.terms import Terms

ANCHOR_SIZES = (14, 12, 10, 9, 8)
EMPTY = (
    "Choose a unit at the left.\n\nIts whole record opens here: what went into it, by whom, "
    "measured with what, whether it was in tolerance, and both traces."
)
STEPS, UNTIL_NOW, LATER = "Steps", "Steps signed until now", "Since it was filed"


class Detail(QFrame):
    """The record that was chosen."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self.shown: RecordDetail | None = None
        box = down(self, (18, 10, 10, 8), 4)
        self.mark = Mark(24)
        self.title = label("", "title", wrap=True)
        self.decision = label("", "strong")
        head = across(spacing=10)
        head.addWidget(self.title, 1)
        head.addWidget(self.mark)
        head.addWidget(self.decision)
        box.addLayout(head)
        self.subtitle = label("", "small", wrap=True)
        box.addWidget(self.subtitle)
        self.inner = clear()
        self._column = down(self.inner, (0, 4, 10, 0), 10)
        self.empty = label(EMPTY, "quiet", wrap=True)
        self.front, self.steps, self.later = Front(), Timeline(), Timeline()
        self.terms, self.photos = Terms(), Shelf(columns=3)
        # A hash has no place where a line may break.
        self.anchor = FitLabel(ANCHOR_SIZES, bold=False, one_line_from=100)
        set_role(self.anchor, "raw")
        self.anchor.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._parts = (self.front, self.steps, self.later, self.terms, self.photos, self.anchor)
        for part in (self.empty, *self._parts):
            self._column.addWidget(part)
        self._column.addStretch(1)
        self.scroller = Scroller(self.inner, "the record")
        box.addWidget(self.scroller, 1)
        self._head = (self.mark, self.title, self.decision, self.subtitle)
        self.show_nothing()

    @property
    def traces(self) -> list[QWidget]:
        """Return the traces' widgets."""
        return list(self.front.traces)

    def show_nothing(self, words: str = EMPTY) -> None:
        """Show what belongs here."""
        self.shown = None
        for widget in (*self._head, *self._parts):
            widget.hide()
        set_role(self.empty, "quiet")
        self.empty.setText(words)
        self.empty.show()

    def show_detail(self, detail: RecordDetail) -> None:
        """Show a record, or a unit that has none yet."""
        self.shown = detail
        row, front = detail.row, detail.front
        self.title.setText(row.serial)
        filed = (row.family, detail.place) if front is not None else (row.family, row.title)
        self.subtitle.setText("   ".join(part for part in filed if part))
        self.decision.setText(row.state)
        self.mark.set_tone(row.tone)
        for widget in self._head:
            widget.show()
        # A filed unit's front says it, larger.
        for widget in (self.mark, self.decision):
            widget.setVisible(front is None)
        if front is not None:
            self.front.show_front(front, detail.traces)
        self.front.setVisible(front is not None)
        self.steps.show_rows(UNTIL_NOW if detail.no_record else STEPS, detail.steps)
        self.later.show_rows(LATER, detail.later)
        self.terms.show_groups(detail.groups)
        self.anchor.show_text(detail.anchor)
        self.photos.show_photos(detail.photos)
        for part in (self.terms, self.anchor):
            part.setVisible(not detail.no_record)
        set_role(self.empty, "")
        self.empty.setText(detail.no_record)
        self.empty.setVisible(bool(detail.no_record))
        self.scroller.verticalScrollBar().setValue(0)
        self._fill()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the new room anew."""
        super().resizeEvent(event)
        self._fill()

    @Slot()
    def rescale(self) -> None:
        """Share the room anew at the text size in force."""
        self._fill()

    def _fill(self) -> None:
        """Leave the front one screen, so that its traces take what its words leave."""
        if self.shown is None or self.shown.front is None:
            return
        margins, place = self._column.contentsMargins(), self.scroller.viewport()
        self.front.fill(
            place.width() - margins.left() - margins.right(), place.height() - margins.top()
        )
