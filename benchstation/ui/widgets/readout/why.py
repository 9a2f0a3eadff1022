"""Why the target is what it is: every term with its source, to be checked by hand."""

from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.elements import TermGroup
from benchstation.ui.shell.labels import FitLabel, set_role
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.readout.guide import Guide
from benchstation.ui.widgets.readout.terms import Terms

EDGES_PX, GAP_PX = (14, 12, 6, 10), 6


class Why(QFrame):
    """The panel at the right: the terms of this step, and folded where there are none."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        box = down(self, EDGES_PX, GAP_PX)
        self.guide = Guide()
        box.addWidget(self.guide)
        self.title = FitLabel((23, 20, 17), one_line_from=17)
        self.title.show_text("Why this target")
        box.addWidget(self.title)
        inner = clear()
        column = down(inner, (3, 2, 8, 4))
        self.terms = Terms()
        column.addWidget(self.terms)
        column.addStretch(1)
        self.scroller = Scroller(inner, "terms of the computation")
        box.addWidget(self.scroller, 1)
        self._shown: tuple[TermGroup, ...] = ()
        self._guide: tuple[str, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Return True where there is nothing to be told."""
        return not self._shown and not self._guide

    def show_why(self, groups: tuple[TermGroup, ...], guide: tuple[str, ...] = ()) -> None:
        """Show these terms, below the words that accompany a first unit."""
        if guide != self._guide:
            self._guide = guide
            self.guide.show_words(guide)
        self.title.setVisible(bool(groups))
        if groups != self._shown:
            self._shown = groups
            heading = groups[0].heading if groups else ""
            self.title.show_text(heading or "Why this target")
            self.terms.show_groups(groups)
