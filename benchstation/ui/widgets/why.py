"""Why the target is what it is: every term with its source, to be checked by hand."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QScrollArea, QVBoxLayout, QWidget

from benchstation.bench_view import TermGroup, TermView
from benchstation.ui.widgets.labels import frame, label, set_role

EMPTY = (
    "Nothing is computed at this step.\n\nAt a weighing or a charge every term of the target "
    "stands here, with its source, so that it can be checked by hand."
)


class Term(QWidget):
    """One term: what and how much, and under it where it comes from."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: TermView | None = None
        self.name = label("", "quiet", wrap=True)
        self.value = label("", "", wrap=True)
        self.value.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
        self.name.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        self.source = label("", "small", wrap=True)
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 2, 0, 2)
        self._grid.setHorizontalSpacing(10)
        self._grid.setVerticalSpacing(0)
        self._grid.addWidget(self.name, 0, 0)
        self._grid.addWidget(self.value, 0, 1)
        self._grid.addWidget(self.source, 1, 0, 1, 2)

    def show_term(self, term: TermView) -> None:
        """Show a term; does nothing when it is the one that stands there."""
        if term == self.shown:
            return
        self.shown = term
        self.name.setText(term.label)
        self.value.setText(term.value)
        set_role(self.value, "strong" if term.strong else "")
        self.source.setText(term.source)
        self.source.setVisible(bool(term.source))
        # Whichever is longer gets the more room; neither is cut off.
        left, right = (min(20, max(6, len(text))) for text in (term.label, term.value))
        self._grid.setColumnStretch(0, left)
        self._grid.setColumnStretch(1, right)


class Terms(QWidget):
    """Groups of terms; also used for records and instruments."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._box = QVBoxLayout(self)
        self._box.setContentsMargins(0, 0, 0, 0)
        self._box.setSpacing(0)
        self._titles: list[QWidget] = []
        self.terms: list[Term] = []
        self._shape: tuple[tuple[str, int], ...] | None = None

    def show_groups(self, groups: tuple[TermGroup, ...]) -> None:
        """Show groups; rows are made anew only when their number or titles change."""
        shape = tuple((group.title, len(group.terms)) for group in groups)
        if shape != self._shape:
            self._shape = shape
            self._build(groups)
        flat = [term for group in groups for term in group.terms]
        for row, term in zip(self.terms, flat, strict=True):
            row.show_term(term)

    def _build(self, groups: tuple[TermGroup, ...]) -> None:
        for widget in (*self._titles, *self.terms):
            widget.hide()
            widget.deleteLater()
        self._titles, self.terms = [], []
        for count, group in enumerate(groups):
            if count:
                self._add(frame("rule"))
            if group.title:
                self._add(label(group.title, "strong"))
            for _ in group.terms:
                self.terms.append(Term(self))
                self._box.addWidget(self.terms[-1])

    def _add(self, widget: QWidget) -> None:
        widget.setContentsMargins(0, 8, 0, 2)
        self._titles.append(widget)
        self._box.addWidget(widget)


class Why(QFrame):
    """The panel at the right: terms above, standing words below."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        box = QVBoxLayout(self)
        box.setContentsMargins(14, 12, 8, 10)
        box.setSpacing(6)
        self.title = label("Why this target", "title")
        box.addWidget(self.title)
        inner = QWidget()
        inner.setObjectName("clear")
        column = QVBoxLayout(inner)
        column.setContentsMargins(0, 0, 8, 0)
        self.empty = label(EMPTY, "quiet", wrap=True)
        column.addWidget(self.empty)
        self.terms = Terms()
        column.addWidget(self.terms)
        column.addStretch(1)
        self.scroll = QScrollArea()
        self.scroll.setWidgetResizable(True)
        self.scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.scroll.setAccessibleName("terms of the computation")
        self.scroll.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.scroll.setWidget(inner)
        box.addWidget(self.scroll, 1)
        self.notes = label("", "small", wrap=True)
        box.addWidget(self.notes)
        self._shown: tuple[TermGroup, ...] | None = None

    def show_why(self, groups: tuple[TermGroup, ...], notes: tuple[str, ...]) -> None:
        """Show the terms and the standing words."""
        self.notes.setText("\n".join(notes))
        self.notes.setVisible(bool(notes))
        if groups == self._shown:
            return
        self._shown = groups
        self.terms.show_groups(groups)
        self.empty.setVisible(not groups)
        self.title.setText("Why this target" if groups else "Why")
