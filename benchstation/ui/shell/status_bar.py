"""The status bar: pages by key at the left, the station's last word, switches at the right.

A message never moves a button: it has its place whether there is one or not, takes smaller words
there, and what is still too long ends in three dots beside a button that shows it whole.
"""

from PySide6.QtCore import QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent, QFontMetrics, QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from benchstation.screens.model.elements import ActionView, Tone
from benchstation.ui.shell.bridge import Message
from benchstation.ui.shell.full_message import FullMessage
from benchstation.ui.shell.labels import label, set_role, set_wash, sized
from benchstation.ui.shell.layouts import across, down
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import TARGET_PX
from benchstation.ui.widgets.readout.action_button import ActionButton, same_key
from benchstation.ui.widgets.readout.mark import Mark

GOOD_FOR_MS = 12_000
"""How long a good word stays. One that asks for something stays until the next."""
GAP_PX, SIDE_PX, MESSAGE_PX, ANY_WIDTH = 8, 12, 240, 16_777_215
WORD_SIZES, LINE_EDGES_PX = (15, 13, 12), (12, 2)
MARK_PX, BESIDE_MARK_PX = 24, 10
SHOW_ALL = ActionView("show_all", "Show all", "Shift+F1")
DOTS = "…"
HAPPENED = (Tone.GOOD, Tone.NORMAL)
"""What happened as it should: it is grey, and goes by itself."""


class MessageLine(QFrame):
    """The station's last word, in a place of one size."""

    changed = Signal()
    """There is another message, or none."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.message: Message | None = None
        self.mark = Mark(MARK_PX)
        self.mark.set_normal(True)
        self.words = label("", "", wrap=True)
        self.words.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Ignored)
        self.show_all = ActionButton(quiet=True)
        self.show_all.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        self.show_all.show_action(SHOW_ALL)
        self.show_all.hide()
        sides, ends = LINE_EDGES_PX
        row = across(self, (sides, 0, 0, 0))
        row.setSpacing(BESIDE_MARK_PX)
        row.addWidget(self.mark)
        self._words_box = down(margins=(0, ends, sides, ends))
        self._words_box.addWidget(self.words)
        row.addLayout(self._words_box, 1)
        row.addWidget(self.show_all)
        keep = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Ignored)
        keep.setRetainSizeWhenHidden(True)
        self.setSizePolicy(keep)
        self.setMinimumHeight(TARGET_PX)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self.clear)
        self.hide()

    def hasHeightForWidth(self) -> bool:
        """Ask for no height, however long the message."""
        return False

    def sizeHint(self) -> QSize:
        """Ask for nothing that a message could change."""
        return QSize(TARGET_PX, TARGET_PX)

    def minimumSizeHint(self) -> QSize:
        """Ask for nothing that a message could change."""
        return QSize(TARGET_PX, TARGET_PX)

    def tell(self, message: Message) -> None:
        """Show a message, and let a screen reader say all of it."""
        self.message = message
        self.mark.set_tone(message.tone)
        self.mark.setVisible(message.tone is not Tone.QUIET)
        # What happened as it should is grey; green is a judged pass's alone.
        set_wash(self, Tone.QUIET if message.tone in HAPPENED else message.tone)
        self.setAccessibleName(message.text)
        self.show()
        self._fit()
        self._timer.stop()
        if message.tone in HAPPENED:
            self._timer.start(GOOD_FOR_MS)
        if message.tone is not Tone.QUIET:
            event = QAccessibleAnnouncementEvent(self, message.text)
            event.setPoliteness(QAccessible.AnnouncementPoliteness.Polite)
            QAccessible.updateAccessibility(event)
        self.changed.emit()

    def rescale(self) -> None:
        """Fit the message anew."""
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit the message to the new place."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """Take the largest words that stand whole here, else the first of the smallest."""
        if self.message is None:
            return
        text, inside = self.message.text, self.contentsRect()
        sides, ends = LINE_EDGES_PX
        width = inside.width() - 2 * sides
        if self.message.tone is not Tone.QUIET:
            width -= self.mark.width() + BESIDE_MARK_PX
        high = inside.height() - 2 * ends
        for pixels in WORD_SIZES:
            if self._stands(text, pixels, width, high):
                break
        else:
            width -= self.show_all.sizeHint().width() + BESIDE_MARK_PX
            text = self._begun(text, pixels, width, high)
        self.words.setStyleSheet(f"QLabel {{ font-size: {px(pixels)}px; }}")
        self.words.setText(text)
        elided = text != self.message.text
        self.show_all.setMaximumWidth(self.show_all.sizeHint().width())
        self.show_all.setVisible(elided)

    def _stands(self, text: str, pixels: int, width: int, high: int) -> bool:
        metrics = QFontMetrics(sized(self.words.font(), pixels))
        wrap = int(Qt.TextFlag.TextWordWrap)
        need = metrics.boundingRect(0, 0, width, ANY_WIDTH, wrap, text)
        return need.height() <= high and need.width() <= width

    def _begun(self, text: str, pixels: int, width: int, high: int) -> str:
        """Return as many of the words as stand here, with dots behind."""
        least, most = 0, len(text)
        while least < most:
            middle = (least + most + 1) // 2
            if self._stands(text[:middle].rstrip() + DOTS, pixels, width, high):
                least = middle
            else:
                most = middle - 1
        begun = text[:least]
        return (begun.rsplit(" ", 1)[0] if " " in begun else begun).rstrip() + DOTS

    @Slot()
    def clear(self) -> None:
        """Take the message away."""
        self._timer.stop()
        self.message = None
        self.words.setText("")
        self.hide()
        self.changed.emit()


class StatusBar(QFrame):
    """Pages, message, switches; the pages take a row of their own in a narrow window."""

    pressed = Signal(str)
    """The id of a page or switch."""

    def __init__(
        self,
        pages: tuple[ActionView, ...],
        switches: tuple[ActionView, ...],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        set_role(self, "clear")
        self.line = MessageLine()
        self.full_message: FullMessage | None = None
        self.buttons: dict[str, ActionButton] = {}
        self._pages = [self._button(action) for action in pages]
        self._switches = [self._button(action) for action in switches]
        self._box = box = QVBoxLayout(self)
        box.setContentsMargins(12, 8, 12, 8)
        box.setSpacing(8)
        self._rows = QHBoxLayout(), QHBoxLayout()
        for row in self._rows:
            row.setSpacing(GAP_PX)
            box.addLayout(row)
        self._two: bool | None = None
        self.line.show_all.clicked.connect(self.show_message)
        self.line.changed.connect(self.hide_all)
        self.rescale()

    def show_all_over(self, pages: QWidget) -> None:
        """Set the widget over which a message too long for the status bar is shown."""
        self.full_message = FullMessage(pages)

    @Slot()
    def show_message(self) -> None:
        """Show the whole message over the page."""
        if self.full_message is not None and self.line.message is not None:
            self.full_message.show_message(self.line.message)

    @Slot()
    def hide_all(self) -> None:
        """Leave the page free."""
        if self.full_message is not None:
            self.full_message.hide()

    def press_key(self, key: str) -> bool:
        """Open the whole message, or close it; says whether the key was for that."""
        whole = self.full_message is not None and self.full_message.isVisible()
        if whole and (same_key(key, "Esc") or same_key(key, SHOW_ALL.key)):
            self.hide_all()
            return True
        if same_key(key, SHOW_ALL.key):
            self.show_message()
            return True
        return False

    @Slot()
    def rescale(self) -> None:
        """Use one row where it leaves the message room, else two, whatever is shown now."""
        # A button that is not always there counts always: none else moves when it comes.
        buttons = (*self._pages, *self._switches)
        room = self.width() - 2 * SIDE_PX - px(MESSAGE_PX)
        wide = [max(b.sizeHint().width(), b.minimumSizeHint().width()) for b in buttons]
        snug = [button.snug_width() for button in buttons]
        whole, tight = (sum(s) + GAP_PX * len(s) <= room for s in (wide, snug))
        two, squeezed = not tight, tight and not whole
        # Words take a smaller size before the bar takes another row, each its share of what lacks.
        spare = room - GAP_PX * len(snug) - sum(snug)
        share = spare / max(1, sum(wide) - sum(snug))
        for button, least, most in zip(buttons, snug, wide, strict=True):
            width = least + int((most - least) * share)
            button.setMinimumWidth(width if squeezed else 0)
            button.setMaximumWidth(width if squeezed else ANY_WIDTH)
        if two == self._two:
            return
        self._two = two
        first, second = self._rows
        for row in self._rows:
            while row.takeAt(0) is not None:
                pass
        top, low = (second, first) if two else (first, first)
        # The message stays beside the switches: the pages are many.
        for button in self._pages:
            top.addWidget(button, 1 if two else 0)
        low.addWidget(self.line, 1)
        for button in self._switches:
            low.addWidget(button)
        # The height of two rows would stay with one.
        self._box.invalidate()
        self.updateGeometry()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Choose one row or two for the new width."""
        super().resizeEvent(event)
        self.rescale()

    def _button(self, action: ActionView) -> ActionButton:
        button = ActionButton(quiet=True)
        button.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)
        button.show_action(action)
        button.clicked.connect(self._on_clicked)
        self.buttons[action.id] = button
        return button

    def show_switch(self, action: ActionView) -> None:
        """Change what a button says."""
        button = self.buttons[action.id]
        if button.action != action:
            button.show_action(action)
            self.rescale()

    def show_if_any(self, name: str, action: ActionView | None) -> None:
        """Show a button that is not always there."""
        if action is not None:
            self.show_switch(action)
        if self.buttons[name].isHidden() == (action is not None):
            self.buttons[name].setVisible(action is not None)
            self.rescale()

    @Slot()
    def _on_clicked(self) -> None:
        for name, button in self.buttons.items():
            if button is self.sender():
                self.pressed.emit(name)
