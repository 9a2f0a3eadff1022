"""What every page of the window has: a word for the status bar, and keys."""

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.bridge import Message
from benchstation.ui.widgets.drawings.picture import Callout


class Page(QWidget):
    """One page. The window hands it the keys that no field and no switch wanted."""

    told = Signal(object)
    """A :class:`benchstation.ui.shell.bridge.Message` about something done or refused."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")

    @Slot(str)
    def refuse(self, why: str) -> None:
        """Tell why something is not possible now."""
        self.told.emit(Message(why, Tone.CAUTION))

    def press_key(self, key: str) -> bool:
        """Do what is on this key; says whether there is something."""
        return False

    def least_height(self, width: int) -> int:
        """Return the height in pixels below which something of it would be cut."""
        layout = self.layout()
        if layout is None:
            return 0
        if layout.hasHeightForWidth():
            return layout.totalMinimumHeightForWidth(width)
        return layout.totalMinimumSize().height()

    def reword(self) -> None:
        """Show anew what was asked of the station in other units."""

    def show_person(self, who: str) -> None:
        """Take note of who is signed in, by id; empty for nobody."""

    def wants_scan(self) -> bool:
        """Return True when a scan that is no badge would have a place here."""
        return False

    def chooses(self, scan: str) -> bool:
        """Return True when a scan in a text was meant for another field, which took it."""
        return False

    def take_scan(self, scan: str) -> bool:
        """Use a scan that went to no field and is no badge; says whether the page did."""
        return False

    def go_to(self, place: str) -> None:
        """Choose what another page leads to, by its key."""

    def callouts(self) -> tuple[Callout, ...]:
        """Return what the help's picture of this page explains: a part, and what it is for."""
        return ()

    def unkept(self) -> str:
        """Return what is written here and would lose with the window; empty for nothing."""
        return ""
