"""How far the demonstration's past is made, and what opens it; gone where it is on record."""

from PySide6.QtCore import QTimer, Signal, Slot
from PySide6.QtWidgets import QProgressBar, QWidget

from benchstation.screens.model.elements import ActionView
from benchstation.screens.model.service import DemoHand
from benchstation.ui.shell.labels import label
from benchstation.ui.shell.layouts import down
from benchstation.ui.widgets.readout.action_button import ActionButton

LOOK_MS, BAR_PX = 500, 10
SHOW = ActionView("past", "Open it", "Alt+H")


class PastBar(QWidget):
    """Words, a bar, and a button once the past is ready."""

    opened = Signal()
    """The past was asked for: the window closes and comes back with it."""

    def __init__(self, hand: DemoHand, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._hand = hand
        self.words = label("", "small", wrap=True)
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setFixedHeight(BAR_PX)
        self.bar.setAccessibleName("How far the past is made")
        self.button = ActionButton(quiet=True)
        self.button.show_action(SHOW)
        self.button.clicked.connect(self.open)
        box = down(self, spacing=4)
        for part in (self.words, self.bar, self.button):
            box.addWidget(part)
        # The button has its room from the beginning: the hand's window does not grow under a hand.
        self.setMinimumHeight(self.words.sizeHint().height() + 4 + self.button.sizeHint().height())
        self._timer = QTimer(self)
        self._timer.setInterval(LOOK_MS)
        self._timer.timeout.connect(self.look)
        self.look()

    @Slot()
    def look(self) -> None:
        """Show how far it is now; look again as long as it is not ready."""
        past = self._hand.past()
        if past is None:
            self.hide()
            self._timer.stop()
            return
        self.words.setText(past.words)
        self.bar.setVisible(not past.ready)
        self.bar.setValue(round(100 * past.share))
        self.button.setVisible(past.ready)
        if past.ready:
            self._timer.stop()
        elif not self._timer.isActive():
            self._timer.start()

    @Slot()
    def open(self) -> None:
        """Ask for the past, or say what is against it."""
        against = self._hand.open_past()
        if against:
            self.words.setText(against)
        else:
            self.opened.emit()
