"""A message too long for the status bar, in full over the page, only on request."""

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtWidgets import QFrame, QSizePolicy, QWidget

from benchstation.screens.model.elements import ActionView
from benchstation.ui.shell.bridge import Message
from benchstation.ui.shell.labels import label, set_wash
from benchstation.ui.shell.layouts import across, clear
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.readout.action_button import ActionButton
from benchstation.ui.widgets.readout.mark import Mark

SIDE_PX, EDGES_PX = 12, 28


class FullMessage(QFrame):
    """Lies at the bottom of the pages and inside them: strip and alarms are never covered."""

    def __init__(self, pages: QWidget) -> None:
        super().__init__(pages)
        self._pages, self._free = pages, 0
        self.mark = Mark(32)
        self.words = label("", "large", wrap=True)
        inner = clear()
        column = across(inner, (0, 0, 8, 0))
        column.addWidget(self.words)
        self.scroller = Scroller(inner, "the whole message")
        self.close_it = ActionButton(quiet=True)
        self.close_it.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)
        self.close_it.show_action(ActionView("close", "Close", "Esc"))
        row = across(self, (14, 10, 12, 10), 14)
        row.addWidget(self.mark, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.scroller, 1)
        row.addWidget(self.close_it, 0, Qt.AlignmentFlag.AlignBottom)
        self.close_it.clicked.connect(self.hide)
        pages.installEventFilter(self)
        self.hide()

    def show_message(self, message: Message) -> None:
        """Show a message."""
        self.words.setText(message.text)
        self.mark.set_tone(message.tone)
        set_wash(self, message.tone)
        self.setAccessibleName(message.text)
        self.show()
        self.raise_()
        self._place()

    def keep_free(self, right: int) -> None:
        """Leave so much free at the right, where the alarms stand."""
        if right != self._free:
            self._free = right
            self._place()

    def rescale(self) -> None:
        """Take the height that the words need."""
        self._place()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the pages when they give way or get room."""
        if watched is self._pages and event.type() is QEvent.Type.Resize:
            self._place()
        return super().eventFilter(watched, event)

    def _place(self) -> None:
        if self.isHidden():
            return
        width, room = self._pages.width() - 2 * SIDE_PX - self._free, self._pages.height()
        self.resize(width, room)
        layout = self.layout()
        if layout is not None:
            layout.activate()
        high = self.words.heightForWidth(self.scroller.viewport().width() - 8)
        high = max(high + EDGES_PX, self.close_it.minimumHeight() + EDGES_PX)
        self.setGeometry(SIDE_PX, max(0, room - high), width, min(high, room))
