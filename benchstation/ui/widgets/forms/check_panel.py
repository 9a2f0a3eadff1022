"""The check of the journal: how far it is, then what it found, for as long as the station runs."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QProgressBar, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.screens.model.records import CheckView
from benchstation.ui.shell.layouts import down
from benchstation.ui.shell.notice import Notice

BAR_PX, PARTS = 8, 1000


class CheckPanel(QWidget):
    """Nothing before the first check; its words can be copied, to be held against paper."""

    def __init__(self, what: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self.shown = CheckView("", Tone.QUIET)
        self.notice = Notice()
        self.notice.words.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.bar = QProgressBar()
        self.bar.setRange(0, PARTS)
        self.bar.setTextVisible(False)
        self.bar.setFixedHeight(BAR_PX)
        self.bar.setAccessibleName(f"how much of the {what}")
        box = down(self, spacing=4)
        box.addWidget(self.notice)
        box.addWidget(self.bar)
        self.show_check(self.shown)

    def show_check(self, view: CheckView) -> None:
        """Show how far it is, or what it found."""
        self.shown = view
        self.notice.show_words(view.words, view.tone)
        self.bar.setValue(round(PARTS * (view.share or 0.0)))
        self.bar.setVisible(view.share is not None)
        self.setVisible(bool(view.words))
