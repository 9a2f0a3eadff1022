"""The foot: pages by key at the left, the station's last word, switches at the right."""

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QFontMetrics, QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from benchstation.bench_view import ActionView, Tone
from benchstation.ui.bridge import Message
from benchstation.ui.widgets.action_button import ActionButton
from benchstation.ui.widgets.labels import FitLabel, set_role, set_wash, sized
from benchstation.ui.widgets.mark import Mark

GOOD_FOR_MS = 12_000
"""How long a good word stays. One that asks for something stays until the next."""
GAP_PX, SIDE_PX, MESSAGE_PX, ANY_WIDTH = 8, 12, 200, 16_777_215
WORD_SIZES, MOST_LINES = (15, 13, 12), 3
"""A message takes smaller words first, then a row of the foot for itself; it is never cut."""
LINE_SIDES_PX, MARK_PX, BESIDE_MARK_PX = 12, 24, 10


class MessageLine(QFrame):
    """The station's last word."""

    changed = Signal()
    """There is another message, or none."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.message: Message | None = None
        self.mark = Mark(MARK_PX)
        self.words = FitLabel(WORD_SIZES, bold=False, one_line_from=15, most_lines=MOST_LINES)
        row = QHBoxLayout(self)
        row.setContentsMargins(LINE_SIDES_PX, 4, LINE_SIDES_PX, 4)
        row.setSpacing(BESIDE_MARK_PX)
        row.addWidget(self.mark)
        row.addWidget(self.words, 1)
        keep = self.sizePolicy()
        keep.setRetainSizeWhenHidden(True)
        keep.setHorizontalPolicy(QSizePolicy.Policy.Expanding)
        self.setSizePolicy(keep)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self.clear)
        self.hide()

    def tell(self, message: Message) -> None:
        """Show a message."""
        self.message = message
        self.words.show_text(message.text)
        self.mark.set_tone(message.tone)
        self.mark.setVisible(message.tone is not Tone.QUIET)
        set_wash(self, message.tone)
        self.setAccessibleName(message.text)
        self.show()
        self._timer.stop()
        if message.tone is Tone.GOOD:
            self._timer.start(GOOD_FOR_MS)
        self.changed.emit()

    def fits(self, width: int) -> bool:
        """Say whether the whole message stands in this width, at the smallest words at least."""
        if self.message is None:
            return True
        room = width - 2 * LINE_SIDES_PX - MARK_PX - BESIDE_MARK_PX
        metrics = QFontMetrics(sized(self.words.font(), WORD_SIZES[-1]))
        wrap = int(Qt.TextFlag.TextWordWrap)
        high = metrics.boundingRect(0, 0, room, ANY_WIDTH, wrap, self.message.text).height()
        return high <= MOST_LINES * metrics.lineSpacing()

    @Slot()
    def clear(self) -> None:
        """Take the message away."""
        self._timer.stop()
        self.message = None
        # Hidden words keep their room; a long word would keep a row's.
        self.words.show_text("")
        self.hide()
        self.changed.emit()


class Foot(QFrame):
    """Pages, message, switches; the pages take a row of their own where one is too short."""

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
        self.line.changed.connect(self.rescale)
        self.rescale()

    @Slot()
    def rescale(self) -> None:
        """Use one row where it leaves the whole message room, else two."""
        # Before it is first shown every button counts as hidden to Qt.
        explicit = Qt.WidgetAttribute.WA_WState_ExplicitShowHide
        both = (*self._pages, *self._switches)
        buttons = [b for b in both if not (b.isHidden() and b.testAttribute(explicit))]
        room = self.width() - 2 * SIDE_PX - MESSAGE_PX
        wide = [max(b.sizeHint().width(), b.minimumSizeHint().width()) for b in buttons]
        snug = [button.snug_width() for button in buttons]
        whole, tight = (sum(s) + GAP_PX * len(s) <= room for s in (wide, snug))
        left = MESSAGE_PX + (room - sum(wide) - GAP_PX * len(wide) if whole else 0)
        two = not ((whole or tight) and self.line.fits(left))
        squeezed = tight and not (whole or two)
        # Words take a smaller size before the foot takes another row, each its share of what lacks.
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
