"""What follows from a specification, in figures, and what differs from the revision before."""

from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.screens.model.specifications import SpecificationDetail
from benchstation.ui.shell.labels import frame, label, set_role
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.notice import Notice
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.lists.changes import Changes
from benchstation.ui.widgets.readout.terms import Terms

EMPTY = (
    "Nothing is computed yet.\n\nThe window that the oil must lie in, every limit with what is "
    "left of it, and what differs from the revision before stand here."
)
SAME = "Nothing differs from the revision before."
OLD = "From the last text that could be read."
FIRST = "This is the first revision."


class SpecificationTerms(QFrame):
    """The right of the page: what changed above, the figures below."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        box = down(self, (14, 12, 6, 10))
        inner = clear()
        column = down(inner, (3, 2, 8, 4), 6)
        self.empty = label(EMPTY, "quiet", wrap=True)
        self.old = Notice()
        self.title = label("", "strong", wrap=True)
        self.changes = Changes()
        self.same = label("", "quiet", wrap=True)
        self.rule = frame("rule")
        self.terms = Terms()
        for part in (self.empty, self.old, self.title, self.changes, self.same, self.rule):
            column.addWidget(part)
        column.addWidget(self.terms)
        column.addStretch(1)
        self.scroller = Scroller(inner, "figures and changes")
        box.addWidget(self.scroller)
        self._parts = (self.old, self.title, self.changes, self.same, self.rule, self.terms)
        self.show_nothing()

    def show_nothing(self) -> None:
        """Show what belongs here."""
        for part in self._parts:
            part.hide()
        self.empty.show()

    def show_detail(self, detail: SpecificationDetail, against: str) -> None:
        """Show the figures and changes of a specification that could be read."""
        self.old.show_words("", Tone.CAUTION)
        self.empty.hide()
        self.title.setText(f"Changes against {against}")
        self.changes.show_changes(detail.changes)
        self.same.setText(FIRST if detail.row.revision <= 1 else SAME)
        self.terms.show_groups(detail.groups)
        for part in (self.title, self.changes):
            part.setVisible(bool(detail.changes))
        self.same.setVisible(not detail.changes)
        self.rule.show()
        self.terms.show()

    def show_old(self) -> None:
        """Show that these figures are not of the present text."""
        if self.empty.isHidden():
            self.old.show_words(OLD, Tone.CAUTION)
