"""Why the target is what it is: every term with its source, to be checked by hand."""

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.elements import TermGroup
from benchstation.ui.shell.labels import FitLabel, label, set_role
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.readout.terms import Terms

EMPTY = (
    "Nothing is computed at this step.\n\nA weighing or a charge shows every term of its target "
    "here. Each has its source, to be checked by hand."
)


EDGES_PX, GAP_PX, LEAST_PX = (14, 12, 6, 10), 6, 60


class Why(QFrame):
    """The panel at the right: terms above, standing words below."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        box = down(self, EDGES_PX, GAP_PX)
        self.title = FitLabel((23, 20, 17), one_line_from=17)
        self.title.show_text("Why")
        box.addWidget(self.title)
        inner = clear()
        column = down(inner, (3, 2, 8, 4))
        self.empty = label(EMPTY, "quiet", wrap=True)
        column.addWidget(self.empty)
        self.terms = Terms()
        column.addWidget(self.terms)
        column.addStretch(1)
        self.scroller = Scroller(inner, "terms of the computation")
        self.scroller.setMinimumHeight(LEAST_PX)
        box.addWidget(self.scroller, 1)
        self.notes = label("", "small", wrap=True)
        box.addWidget(self.notes)
        self._shown: tuple[TermGroup, ...] | None = None
        self._noted: tuple[str, ...] | None = None

    def show_why(self, groups: tuple[TermGroup, ...], notes: tuple[str, ...]) -> None:
        """Show the terms and the standing words."""
        if (groups, notes) == (self._shown, self._noted):
            return
        if notes != self._noted:
            self._noted = notes
            self.notes.setText("\n".join(notes))
            self.notes.setVisible(bool(notes))
            self._fit()
        if groups == self._shown:
            return
        self._shown = groups
        self.terms.show_groups(groups)
        self.empty.setVisible(not groups)
        heading = groups[0].heading if groups else "Why"
        self.title.show_text(heading or "Why this target")
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show the terms where there is height for some."""
        super().resizeEvent(event)
        self._fit()

    def least_height(self) -> int:
        """Return the height of the standing words."""
        left, top, right, bottom = EDGES_PX
        words = self.notes.heightForWidth(max(1, self.width() - left - right))
        return top + bottom + (0 if self.notes.isHidden() else words)

    def _fit(self) -> None:
        """Shrink the terms where the height is short: the standing words stay whole."""
        left, _, right, _ = EDGES_PX
        title = self.title.heightForWidth(max(1, self.width() - left - right)) + GAP_PX
        roomy = self.height() >= self.least_height() + title + LEAST_PX + GAP_PX
        self.title.setVisible(roomy)
        self.scroller.setVisible(roomy)
