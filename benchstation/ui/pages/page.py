"""What every page of the window has: a word for the status bar, a place for refusals, and keys."""

from PySide6.QtCore import QPoint, QRect, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.bridge import Message
from benchstation.ui.shell.text_scale import px
from benchstation.ui.widgets.drawings.picture import Callout
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.readout.actions import Actions
from benchstation.ui.widgets.readout.reason_line import ReasonLine

EDGE_PX, LEAST_PX = 12, 44


class Page(QWidget):
    """One page. The window hands it the keys that no field and no switch wanted."""

    told = Signal(object)
    """A :class:`benchstation.ui.shell.bridge.Message` about something done or refused."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._refusal: ReasonLine | None = None

    @property
    def refusal(self) -> str:
        """Return what was refused here and still stands, wherever it is shown."""
        if self._refusal is not None and self._refusal.refused:
            return self._refusal.refused
        rows = (row for form in self.findChildren(Form) for row in form.rows)
        return next((row.error.text() for row in rows if row.error.text()), "")

    def show_wrong(self, message: Message) -> None:
        """Tell what was refused: at its field where that is shown here, else over the page."""
        self.forgive()
        for form in self.findChildren(Form):
            if form.isVisible():
                there = bool(message.field) and form.show_error(message.field, message.text)
                form.go_back(message.field)
                if there:
                    return
        if self._refusal is None:
            self._refusal = ReasonLine(self)
        self._refusal.refuse(message.text)
        self._refusal.setVisible(True)
        self._ask_again(message.field)
        self._place_refusal()

    def _ask_again(self, field: str) -> None:
        """Put the last question back whose answer was refused, with its reason as it was typed."""
        bars = [bar for bar in self.findChildren(Actions) if bar.answered is not None]
        if bars:
            max(bars, key=lambda bar: bar.answered.at_s if bar.answered else 0.0).ask_again(field)

    def forgive(self) -> None:
        """Take what was refused away: something else is done."""
        if self._refusal is not None:
            self._refusal.drop()
            self._refusal.hide()
        for form in self.findChildren(Form):
            form.show_error("", "")

    def above(self) -> QWidget | None:
        """Return the part above which a refusal lies, where it is not the page's lower edge."""
        return None

    def _place_refusal(self) -> None:
        """Lay it over the page above its actions: it moves nothing."""
        if self._refusal is None or self._refusal.isHidden():
            return
        part = self.above()
        left, wide, low = EDGE_PX, self.width() - 2 * EDGE_PX, self.height()
        if part is not None and part.isVisible():
            at = part.mapTo(self, QPoint(0, 0))
            left, wide, low = at.x(), part.width(), at.y()
        high = min(low, self._refusal.need(wide, px(LEAST_PX)))
        self._refusal.setGeometry(QRect(left, low - high, wide, high))
        self._refusal.raise_()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep a refusal in its place."""
        super().resizeEvent(event)
        self._place_refusal()

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
