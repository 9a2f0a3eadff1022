"""A step's actions in a row or two. One that needs a reason asks for it in their place."""

import time
from collections.abc import Mapping
from dataclasses import dataclass

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QHideEvent, QResizeEvent
from PySide6.QtWidgets import QBoxLayout, QGridLayout, QHBoxLayout, QSizePolicy, QWidget

from benchstation.screens.model.elements import SIGNATURE, ActionView, permitted
from benchstation.ui.shell.labels import label
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.widgets.forms.fields import TextField
from benchstation.ui.widgets.readout.action_button import LEAST_WIDTH_PX, ActionButton, same_key

REASON, GAP_PX = "reason", 8
SAME_FINGER_S = 1.0
"""For so long a place, a key or the pedal does nothing where it did another action before."""
PRIMARY = "pedal"


class Question(QWidget):
    """Asks why, in words, or for the PIN that signs, or for both. Enter sends, Esc leaves."""

    answered = Signal(object)
    """The fields that were typed."""
    left = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self._label = self._again = ""
        self._wants: tuple[TextField, ...] = ()
        self.words = label("", "strong", wrap=True)
        self.reason = TextField()
        self.reason.setMinimumWidth(160)
        self.pin = TextField(secret=True)
        self.pin.setMinimumWidth(120)
        self.pin.setPlaceholderText("Your PIN")
        self.pin.setAccessibleName("your PIN, which signs this")
        self.send, self.leave = ActionButton(), ActionButton()
        self.send.show_action(ActionView("send", "Do it", "Return", primary=True))
        self.leave.show_action(ActionView("leave", "Cancel", "Esc"))
        box = down(self, spacing=6)
        box.addWidget(self.words)
        row = QHBoxLayout()
        row.setSpacing(GAP_PX)
        row.addWidget(self.reason, 3)
        row.addWidget(self.pin, 1)
        for button in (self.leave, self.send):
            button.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)
            row.addWidget(button)
        box.addLayout(row)
        for field in (self.reason, self.pin):
            field.finished.connect(self._on_send)
            field.left.connect(self.left)
        self.send.clicked.connect(self._on_send)
        self.leave.clicked.connect(self.left)

    def ask(self, action: ActionView) -> None:
        """Ask why this is done, or what else the action wants to be told."""
        self._label = action.label
        self._again = action.asks or "say why first, in a few words."
        asks = action.asks or "why? A few words; they stay on record."
        if not action.needs_reason:
            asks = self._again = "your PIN signs it."
        elif action.needs_pin:
            asks = f"{action.asks or 'why? A few words on record,'} then your PIN."
        self._wants = (
            *((self.reason,) if action.needs_reason else ()),
            *((self.pin,) if action.needs_pin else ()),
        )
        self._say(f"{action.label}: {asks}")
        for field in (self.reason, self.pin):
            field.clear()
            field.setVisible(field in self._wants)
        self.show()
        self._wants[0].setFocus(Qt.FocusReason.OtherFocusReason)

    def put_back(self, given: Mapping[str, str], refused: str) -> None:
        """Put the words back that were typed before, but no PIN; what was refused is next."""
        self.reason.setText(given.get(REASON, ""))
        field = self.pin if refused == SIGNATURE else self.reason
        field.setFocus(Qt.FocusReason.OtherFocusReason)

    def end(self) -> None:
        """Ask no more; what was typed goes."""
        for field in (self.reason, self.pin):
            field.clear()
            field.clearFocus()
        self.hide()

    def _say(self, words: str) -> None:
        self.words.setText(words)
        self.reason.setAccessibleName(words)

    @Slot()
    def _on_send(self) -> None:
        names = {self.reason: REASON, self.pin: SIGNATURE}
        empty = next((field for field in self._wants if not field.text().strip()), None)
        if empty is None:
            self.answered.emit({names[field]: field.text().strip() for field in self._wants})
            return
        if empty is self.reason:
            self._say(f"{self._label}: {self._again}")
        empty.setFocus(Qt.FocusReason.OtherFocusReason)


@dataclass(frozen=True, slots=True)
class Answered:
    """A question that was answered: what was typed but for PINs, among which actions and when."""

    action: ActionView
    given: Mapping[str, str]
    wanted: frozenset[str]
    among: tuple[str, ...]
    at_s: float


class Meanings:
    """What each place, key and the pedal means, and since when it means no longer another."""

    def __init__(self, settle_s: float) -> None:
        self._settle_s = settle_s
        self._last: dict[int | str, tuple[str, float]] = {}
        self._changed_at: dict[int | str, float] = {}
        self._now: dict[int | str, str] = {}

    def show(self, actions: tuple[ActionView, ...], now_s: float) -> None:
        """Take note of what is shown from now on."""
        for slot, meant in self._now.items():
            self._last[slot] = meant, now_s
        self._now = {}
        for place, action in reversed(tuple(enumerate(actions))):
            self._now |= {place: action.id, action.key.casefold(): action.id}
            if action.primary:
                self._now[PRIMARY] = action.id
        for slot, meant in self._now.items():
            before, until_s = self._last.get(slot, (meant, now_s))
            if before != meant and now_s - until_s < self._settle_s:
                self._changed_at[slot] = now_s

    def holds(self, slot: int | str, now_s: float) -> bool:
        """Return True when it has meant the same for long enough to be what was meant."""
        return now_s - self._changed_at.get(slot, -self._settle_s) >= self._settle_s


class Actions(QWidget):
    """The actions of a step, in the order given."""

    chosen = Signal(str, object)
    """Action id, and the fields that were asked for: reason and PIN where they are needed."""
    refused = Signal(str)
    """The key of a disabled action was pressed: the words why not."""
    wants_reason = Signal(object)
    """With ``asks=False``: an action that needs a reason or a PIN, for someone else to ask."""
    turned = Signal()
    """Actions gave way to a question, or came back."""

    def __init__(
        self,
        *,
        columns: int = 0,
        quiet: bool = False,
        asks: bool = True,
        settle_s: float = 0.0,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setObjectName("clear")
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self._fixed, self._quiet, self._asks, self._columns = columns, quiet, asks, 0
        self.buttons: list[ActionButton] = []
        self._shown: tuple[ActionView, ...] = ()
        self._given: tuple[ActionView, ...] = ()
        self._barred: Mapping[str, str] = {}
        self._asking: ActionView | None = None
        self.answered: Answered | None = None
        self._meanings = Meanings(settle_s)
        box = down(self)
        self.question = Question(self)
        self.question.hide()
        box.addWidget(self.question)
        self.bar = clear()
        self._grid = QGridLayout(self.bar)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(GAP_PX)
        box.addWidget(self.bar)
        self.question.answered.connect(self._on_answered)
        self.question.left.connect(self.stop_asking)

    def ask_in(self, place: QBoxLayout) -> None:
        """Ask in another place than that of the actions, where theirs has no room for it."""
        place.addWidget(self.question)

    def bars(self, act: str) -> bool:
        """Return True for an act that whoever is signed in may not do."""
        return act in self._barred

    def show_barred(self, barred: Mapping[str, str]) -> None:
        """Show as not possible what whoever is signed in may not do, by the bench's names."""
        self._barred = barred
        self.show_actions(self._given)

    def show_actions(self, actions: tuple[ActionView, ...]) -> None:
        """Show these actions."""
        self._given, actions = actions, permitted(actions, self._barred)
        if actions == self._shown:
            return
        if len(actions) != len(self._shown):
            self._columns = 0
        asked = self._asking in self._shown
        self._meanings.show(actions, time.monotonic())
        self._shown = actions
        while len(self.buttons) < len(actions):
            button = ActionButton(quiet=self._quiet, parent=self.bar)
            button.clicked.connect(self._on_clicked)
            self.buttons.append(button)
        for count, button in enumerate(self.buttons):
            if count < len(actions):
                button.show_action(actions[count])
            button.setVisible(count < len(actions) and self._has_place(count))
        self._arrange()
        if asked and self._asking not in actions:
            self.stop_asking()

    def _has_place(self, _: int) -> bool:
        """Return True where the action of this number is among the buttons that are shown."""
        return True

    def _arrange(self) -> None:
        count = len(self._shown)
        columns = self._fixed or max(1, min(count, self._room()))
        if not self._fixed and count > columns:
            # Rows as even as can be: three and three, not five and one.
            columns = -(-count // -(-count // columns))
        if columns == self._columns:
            return
        self._columns = columns
        for button in self.buttons:
            self._grid.removeWidget(button)
        for place, button in enumerate(self.buttons[:count]):
            self._grid.addWidget(button, place // columns, place % columns)
        for column in range(self._grid.columnCount()):
            # Equally wide, whichever is primary: no button moves under a finger in mid-step.
            self._grid.setColumnStretch(column, 1 if column < columns else 0)
        # At once: a press that meets the old places would be released on nothing.
        self._grid.activate()

    def _room(self) -> int:
        """Return how many actions have room beside each other."""
        buttons = self.buttons[: len(self._shown)]
        widest = max((button.least_width() for button in buttons), default=LEAST_WIDTH_PX)
        return max(1, (self.width() + GAP_PX) // (widest + GAP_PX))

    @property
    def asking(self) -> bool:
        """Return True while a question stands in the place of the actions."""
        return self._asking is not None

    def height_for(self, width: int) -> int:
        """Return the height in this width, before any layout has been made."""
        if self._asking is not None:
            layout = self.question.layout()
            return layout.totalHeightForWidth(width) if layout is not None else 0
        count, columns = len(self._shown), max(1, self._columns)
        if not count:
            return 0
        each = (width - GAP_PX * (columns - 1)) // columns
        high = [button.height_for(each) for button in self.buttons[:count]]
        rows = [max(high[start : start + columns]) for start in range(0, count, columns)]
        return sum(rows) + GAP_PX * (len(rows) - 1)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Break into rows when there is no room for one."""
        self._arrange()
        self._fit_question()

    def rescale(self) -> None:
        """Arrange anew."""
        self._columns = 0
        self._arrange()
        self._fit_question()

    def _fit_question(self) -> None:
        """Return the question the height of its words in this width, which no hint knows."""
        if self._asking is not None:
            self.question.setMinimumHeight(self.height_for(self.width()))

    def press_key(self, pressed: str) -> bool:
        """Do the action on this key; says whether there is one, enabled or not."""
        if self._asking is not None:
            if same_key(pressed, "Esc"):
                self.stop_asking()
            return True
        for action in self._shown:
            if same_key(pressed, action.key):
                self._choose_if_meant(action, action.key.casefold())
                return True
        return False

    def press_primary(self) -> None:
        """Do the primary action, as a form's last field or a scan into it asks."""
        for action in self._shown:
            if action.primary:
                self.choose(action)
                return

    def step_on_pedal(self) -> None:
        """Do the primary action, if it has been that for long enough to be meant."""
        for action in self._shown:
            if action.primary:
                self._choose_if_meant(action, PRIMARY)
                return

    def _choose_if_meant(self, action: ActionView, slot: str) -> None:
        if self.takes(slot):
            self.choose(action)
        else:
            self.refused.emit(f"{action.label}: this key did another thing until now; press again")

    @Slot()
    def _on_clicked(self) -> None:
        for place, action in enumerate(self._shown):
            if self.buttons[place] is self.sender():
                # The finger was on its way to the action that stood here before.
                if self.takes(place):
                    self.choose(action)
                return

    def takes(self, slot: int | str) -> bool:
        """Return True when a place, a key or the pedal has meant its action for long enough."""
        return self._meanings.holds(slot, time.monotonic())

    def choose(self, action: ActionView) -> None:
        """Do an action, ask for its reason first, or say why it is not possible."""
        if not action.enabled:
            self.refused.emit(f"{action.label}: {action.why_not or 'not possible now'}")
        elif not (action.needs_reason or action.needs_pin):
            self.chosen.emit(action.id, {})
        elif self._asks:
            self.ask(action)
        else:
            self.wants_reason.emit(action)

    @Slot(object)
    def ask(self, action: ActionView) -> None:
        """Ask why an action is done, be it one of these or another's."""
        self._asking = action
        self.bar.hide()
        self.question.ask(action)
        self._fit_question()
        self.turned.emit()

    @Slot(object)
    def _on_answered(self, given: dict[str, str]) -> None:
        action = self._asking
        if action is not None:
            self.stop_asking()
            kept = {name: text for name, text in given.items() if name != SIGNATURE}
            self.answered = Answered(
                action, kept, frozenset(given), self._names(), time.monotonic()
            )
            self.chosen.emit(action.id, given)

    def _names(self) -> tuple[str, ...]:
        return tuple(action.id for action in self._shown)

    def ask_again(self, refused: str) -> None:
        """Ask the last question once more where this field of its answer was refused.

        The reason stays as it was typed. Nothing is asked where other actions stand here by now.
        """
        last = self.answered
        if last is None or self.asking or refused not in last.wanted:
            return
        if last.among == self._names():
            self.ask(last.action)
            self.question.put_back(last.given, refused)

    def hideEvent(self, event: QHideEvent) -> None:
        """Forget what was answered: it is not asked once more of who comes back later."""
        super().hideEvent(event)
        self.answered = None

    @Slot()
    def stop_asking(self) -> None:
        """Leave the question; nothing is done."""
        self.answered = None
        if self._asking is None:
            return
        self._asking = None
        self.question.end()
        self.bar.show()
        self.turned.emit()
