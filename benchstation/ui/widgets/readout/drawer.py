"""The drawer: everything else that one may do, and all that is to be read in full, on one key."""

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QWidget

from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import ActionView, StepState, Tone
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import across, clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.readout.action_button import ActionButton
from benchstation.ui.widgets.readout.actions import Actions
from benchstation.ui.widgets.readout.primary_readout import MarkedLines

COLUMNS, CLOSE = 3, ActionView("close_more", "Close", "Esc")


class Drawer(QFrame):
    """Lies over the lower part of the task while it is open; the number and the actions stay."""

    turned = Signal(bool)
    """It was opened, or closed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "drawer")
        self.more = Actions(columns=COLUMNS, asks=False)
        """The actions of the step that have no place of their own."""
        self.side = Actions(columns=COLUMNS, quiet=True, asks=False)
        """What can be done at any step."""
        self.read_whole = MarkedLines()
        self.signed = label("", "small", wrap=True)
        inner = clear()
        column = down(inner, (2, 2, 10, 6), 10)
        for part in (self.more, self.side, self.read_whole, self.signed):
            column.addWidget(part)
        column.addStretch(1)
        self.scroller = Scroller(inner, "more that can be done, and what to read in full")
        self.close_it = ActionButton(quiet=True)
        self.close_it.show_action(CLOSE)
        self.close_it.setFixedWidth(90)
        row = across(self, (12, 10, 8, 10), 8)
        row.addWidget(self.scroller, 1)
        row.addWidget(self.close_it, 0, Qt.AlignmentFlag.AlignTop)
        self.close_it.clicked.connect(self.shut)
        for actions in (self.more, self.side):
            actions.chosen.connect(self.shut)
            actions.wants_reason.connect(self.shut)
        self.hide()

    def show_view(self, view: BenchView, rest: tuple[ActionView, ...]) -> None:
        """Show what a moment offers besides the actions that have a place."""
        self.more.show_actions(rest)
        self.more.setVisible(bool(rest))
        self.side.show_actions(view.side_actions)
        if self.isHidden():
            return
        lines = [(words, Tone.CAUTION, "") for words in view.task.cautions]
        lines += [(words, Tone.QUIET, "") for words in view.notes]
        self.read_whole.show_lines(tuple(lines))
        done = [s for s in view.steps if s.state is StepState.DONE and s.evidence]
        self.signed.setText("\n".join(f"{step.title}: {step.evidence}" for step in done))
        self.signed.setVisible(bool(done))

    def set_closable(self, closable: bool) -> None:
        """Show the button that closes it, unless it is the step's own choice."""
        self.close_it.setVisible(closable)

    @property
    def is_open(self) -> bool:
        """Return True while it is shown."""
        return not self.isHidden()

    @Slot()
    def turn(self) -> None:
        """Open it, or close it."""
        if self.is_open:
            self.shut()
        else:
            self.show()
            self.raise_()
            self.turned.emit(True)

    @Slot()
    def shut(self) -> None:
        """Close it."""
        if self.is_open:
            self.hide()
            self.turned.emit(False)
