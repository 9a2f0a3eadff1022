"""The unit's route: every step, where it stands, and the evidence it left."""

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from benchstation.bench_view import BenchView, StepState, StepView, Tone
from benchstation.ui.widgets.labels import frame, label, set_role, set_tone
from benchstation.ui.widgets.mark import Mark

EMPTY = (
    "No unit is on the bench.\n\nWhen one is opened, its route stands here: every step, what was "
    "found and signed at it, and where you are."
)


class StepRow(QFrame):
    """One step."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: StepView | None = None
        self.mark = Mark(20)
        self.title = label("", "large", wrap=True)
        self.evidence = label("", "small", wrap=True)
        row = QHBoxLayout(self)
        row.setContentsMargins(10, 5, 8, 5)
        row.setSpacing(10)
        row.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self.title)
        words.addWidget(self.evidence)
        row.addLayout(words, 1)

    def show_step(self, step: StepView) -> None:
        """Show a step; does nothing when it is the one that stands there."""
        if step == self.shown:
            return
        self.shown = step
        now = step.state is StepState.NOW
        self.mark.set_state(step.state)
        self.title.setText(step.title)
        set_role(self.title, "strong" if now else "")
        set_tone(self.title, Tone.QUIET if step.state is StepState.WAITING else Tone.PLAIN)
        self.setProperty("wash", str(Tone.MANDATORY) if now else None)
        self.style().unpolish(self)
        self.style().polish(self)
        said = [step.evidence] if step.evidence else []
        if step.state is StepState.REDO:
            said.insert(0, "to be done again")
        if step.hold_point and step.state is not StepState.DONE:
            said.append("hold point")
        self.evidence.setText("; ".join(said))
        self.evidence.setVisible(bool(said))


class Route(QFrame):
    """Unit and steps; scrolls to where the work is."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        box = QVBoxLayout(self)
        box.setContentsMargins(8, 12, 6, 8)
        box.setSpacing(4)
        self.title = label("", "title", wrap=True)
        self.subtitle = label("", "small", wrap=True)
        head = QGridLayout()
        head.setContentsMargins(8, 0, 8, 4)
        head.addWidget(self.title, 0, 0)
        head.addWidget(self.subtitle, 1, 0)
        box.addLayout(head)
        self.empty = label(EMPTY, "quiet", wrap=True)
        self.empty.setContentsMargins(8, 8, 8, 8)
        box.addWidget(self.empty)
        inner = QWidget()
        inner.setObjectName("clear")
        self._rows = QVBoxLayout(inner)
        self._rows.setContentsMargins(0, 0, 4, 0)
        self._rows.setSpacing(1)
        self._rows.addStretch(1)
        self.scroll = QScrollArea()
        self.scroll.setWidgetResizable(True)
        self.scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.scroll.setWidget(inner)
        box.addWidget(self.scroll, 1)
        self.rule = frame("rule")
        self.rows: list[StepRow] = []
        self._now = ""

    def show_view(self, view: BenchView) -> None:
        """Show the route of a moment."""
        self.title.setText(view.unit_title)
        self.subtitle.setText(view.unit_subtitle)
        self.subtitle.setVisible(bool(view.unit_subtitle))
        steps = view.steps
        while len(self.rows) < len(steps):
            self.rows.append(StepRow(self))
            self._rows.insertWidget(self._rows.count() - 1, self.rows[-1])
        for count, row in enumerate(self.rows):
            if count < len(steps):
                row.show_step(steps[count])
            row.setVisible(count < len(steps))
        self.empty.setVisible(not steps)
        self.scroll.setVisible(bool(steps))
        now = next((s.id for s in steps if s.state is StepState.NOW), "")
        if now != self._now:
            self._now = now
            QTimer.singleShot(0, self, self._show_now)

    def _show_now(self) -> None:
        for row in self.rows:
            if row.shown is not None and row.shown.id == self._now:
                self.scroll.ensureWidgetVisible(row, 0, 60)
