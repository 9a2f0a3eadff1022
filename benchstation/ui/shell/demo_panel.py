"""The hand of the demonstration: a virtual jug, syringe, tray, bottle, regulator and vent.

It floats in a window of its own, so that the bench's places are those of a real one.
"""

from functools import partial

from PySide6.QtCore import QEvent, Qt, Signal, Slot
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLayout, QSlider, QVBoxLayout, QWidget

from benchstation.quantities.notation import fixed
from benchstation.quantities.units import Dimension, display_unit, to_display
from benchstation.screens.model.elements import ActionView
from benchstation.screens.model.service import DemoHand, StationService
from benchstation.ui.shell.labels import label, set_role
from benchstation.ui.shell.layouts import down
from benchstation.ui.shell.past_bar import SHOW, PastBar
from benchstation.ui.shell.text_scale import percent, px
from benchstation.ui.shell.theme import TARGET_PX
from benchstation.ui.widgets.readout.action_button import ActionButton, same_key

POUR, VALVE, VENT = "pour", "valve", "vent"
HOLDS = ((POUR, "Pour", "Alt+P"), (VALVE, "Fill", "Alt+G"), (VENT, "Vent", "Alt+V"))
OIL = (("take_out", "Take oil out", "Alt+O"), ("bleed", "Bleed", "Alt+R"))
PAN = (
    ("body", "Body", "Alt+1"),
    ("jug", "Jug", "Alt+5"),
    ("unit", "Unit", "Alt+6"),
    ("tray", "Tray", "Alt+2"),
    ("drip tray", "Drips", "Alt+7"),
    ("check weight", "200\u00a0g", "Alt+3"),
    ("nothing", "Empty", "Alt+4"),
)
WORDS_PX, SLIDER_PX, LEAST_BUTTON_PX = 120, 60, 64
SMALL_PX, SMALL_BUTTON_PX, SMALL_SLIDER_PX, MOST_PX = 282, 44, 30, 16_777_215
OVER_PERCENT = 130
"""From this text size on, words stand over the sliders; beside them they leave them no width."""
FULL_REGULATOR_PA = 6e6
STEPS = 100
FIRST_OPENING, CLEAR_PX, CLEAR_SMALL_PX = 0.5, 90, 160
"""It leaves the foot of the window free where it stands above it, and small the drawer too."""
FLOATING = (
    Qt.WindowType.Window | Qt.WindowType.WindowTitleHint | Qt.WindowType.WindowDoesNotAcceptFocus
)


class Held(ActionButton):
    """A button that acts only while it is held."""

    held = Signal(bool)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(quiet=True, parent=parent)
        self.pressed.connect(self._on_pressed)
        self.released.connect(self._on_released)

    @Slot()
    def _on_pressed(self) -> None:
        self.held.emit(True)

    @Slot()
    def _on_released(self) -> None:
        self.held.emit(False)


def _row(buttons: tuple[ActionButton, ...]) -> QHBoxLayout:
    row = QHBoxLayout()
    row.setSpacing(4)
    for button in buttons:
        button.setMinimumWidth(max(LEAST_BUTTON_PX, button.words_width()))
        row.addWidget(button)
    return row


class DemoPanel(QFrame):
    """Everything a hand can do at the virtual bench, by mouse and by key."""

    def __init__(self, hand: DemoHand, port: StationService, parent: QWidget | None = None) -> None:
        self._small = False
        super().__init__(parent)
        set_role(self, "panel")
        self.setWindowFlags(FLOATING)
        self.setWindowTitle("Virtual hand")
        # The bench keeps the keyboard: a press here takes it away from no field.
        self.setAttribute(Qt.WidgetAttribute.WA_ShowWithoutActivating)
        self._hand, self._port = hand, port
        self._down: set[str] = set()
        box = down(self, (10, 8, 10, 10), 8)
        box.setSizeConstraint(QLayout.SizeConstraint.SetNoConstraint)
        self.past_bar = PastBar(hand)
        box.addWidget(self.past_bar)
        self.held = {name: self._hold(name, words, key) for name, words, key in HOLDS}
        self.presses = {name: self._press(name, words, key) for name, words, key in (*OIL, *PAN)}
        self.opening = self._slider("How far jug and valve open", round(FIRST_OPENING * STEPS))
        self.opening_words = label("", "small")
        self.regulator = self._slider("Regulator", self._regulator_steps())
        self.regulator_words = label("", "small")
        self._above = QHBoxLayout()
        self._lines: list[QHBoxLayout] = []
        self._small_words: list[QLabel] = []
        box.addLayout(self._under("hold to", _row(tuple(self.held.values()))))
        box.addLayout(self._sliders())
        for words, some in (("press to", OIL), ("on the scale", PAN[:4]), ("", PAN[4:])):
            row = _row(tuple(self.presses[name] for name, _, _ in some))
            box.addLayout(self._under(words, row))
        self.opening.valueChanged.connect(self._on_opening)
        self.regulator.valueChanged.connect(self._on_regulator)
        self.rescale()

    def _under(self, words: str, row: QHBoxLayout) -> QVBoxLayout:
        """Put small words above a row of buttons."""
        column = QVBoxLayout()
        column.setSpacing(2)
        if words:
            self._small_words.append(label(words, "small"))
            column.addWidget(self._small_words[-1])
        column.addLayout(row)
        return column

    def stand_beside(self, window: QWidget) -> None:
        """Come up beside a window where the screen has room, else small in its right column.

        There it covers no field, no number and no button of the step.
        """
        frame, screen = window.frameGeometry(), window.screen().availableGeometry()
        self._make_small(small=frame.right() + 8 + self.sizeHint().width() > screen.right())
        left = frame.right() + 8
        if self._small:
            left = max(screen.left(), min(frame.right(), screen.right()) - self.width() - 8)
        clear = CLEAR_SMALL_PX if self._small else CLEAR_PX
        low = min(frame.bottom(), screen.bottom()) - self.height() - clear
        self.move(left, max(screen.top(), low))
        self.show()

    def event(self, event: QEvent) -> bool:
        """Stand on its lower edge, when small, and leave the room of what is hidden free."""
        done = super().event(event)
        if event.type() == QEvent.Type.LayoutRequest and self._small:
            off = self.sizeHint().height() - self.height()
            if off:
                self.setGeometry(self.geometry().adjusted(0, -off, 0, 0))
        return done

    def _make_small(self, *, small: bool) -> None:
        """Take the least width and height, or what is comfortable."""
        self._small = small
        for words in self._small_words:
            words.setVisible(not small)
        for button in (*self.held.values(), *self.presses.values()):
            button.setMaximumHeight(px(SMALL_BUTTON_PX) if small else MOST_PX)
            button.setMinimumHeight(min(px(SMALL_BUTTON_PX), TARGET_PX) if small else TARGET_PX)
        for slider in (self.opening, self.regulator):
            slider.setMaximumHeight(px(SMALL_SLIDER_PX) if small else MOST_PX)
        hint = self.sizeHint()
        width = max(self.minimumSizeHint().width(), px(SMALL_PX)) if small else hint.width()
        self.resize(width, hint.height())

    @property
    def theme(self) -> object:
        """Return the colours of the window that it belongs to."""
        owner = self.parentWidget()
        return getattr(owner.window(), "theme", None) if owner is not None else None

    def rescale(self) -> None:
        """Return the words their width anew."""
        words = (self.opening_words, self.regulator_words)
        over = percent() >= OVER_PERCENT
        for line, told in zip(self._lines, words, strict=True):
            if over:
                self._above.addWidget(told)
            else:
                line.insertWidget(0, told)
            told.setMinimumWidth(0 if over else px(WORDS_PX))
        self._say()
        for button in (*self.held.values(), *self.presses.values()):
            button.setMinimumWidth(max(LEAST_BUTTON_PX, button.words_width()))

    def _sliders(self) -> QVBoxLayout:
        column = QVBoxLayout()
        column.setSpacing(2)
        column.addStretch(1)
        column.addLayout(self._above)
        for slider in (self.opening, self.regulator):
            line = QHBoxLayout()
            self._lines.append(line)
            slider.setMinimumWidth(SLIDER_PX)
            line.addWidget(slider, 1)
            column.addLayout(line)
        return column

    def _hold(self, name: str, words: str, key: str) -> Held:
        button = Held()
        button.show_action(ActionView(name, words, key))
        button.held.connect(partial(self._turn, name))
        return button

    def _press(self, name: str, words: str, key: str) -> ActionButton:
        button = ActionButton(quiet=True)
        button.show_action(ActionView(name, words, key))
        button.clicked.connect(partial(self._do, name))
        return button

    @staticmethod
    def _slider(name: str, value: int) -> QSlider:
        slider = QSlider(Qt.Orientation.Horizontal)
        slider.setRange(0, STEPS)
        slider.setPageStep(10)
        slider.setValue(value)
        slider.setAccessibleName(name)
        slider.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        return slider

    def _regulator_steps(self) -> int:
        gauge = float(self._hand.state().get("regulator_gauge_pa", 0.0))
        return round(STEPS * min(1.0, gauge / FULL_REGULATOR_PA))

    def _say(self) -> None:
        over = percent() >= OVER_PERCENT
        opening = f"{self.opening.value()} %"
        self.opening_words.setText(opening if over else f"opens {opening}")
        gauge = FULL_REGULATOR_PA * self.regulator.value() / STEPS
        system = self._port.display
        number = to_display(gauge, Dimension.PRESSURE, system)
        unit = display_unit(Dimension.PRESSURE, system)
        gauge_words = f"{fixed(number, 0)} {unit}"
        self.regulator_words.setText(gauge_words if over else f"regulator {gauge_words}")

    def _turn(self, name: str, on: bool) -> None:
        opening = self.opening.value() / STEPS if on else 0.0
        set_knob = {
            POUR: self._hand.set_pour,
            VALVE: self._hand.set_valve,
            VENT: self._hand.set_vent,
        }[name]
        if on:
            self._down.add(name)
        else:
            self._down.discard(name)
        set_knob(opening)

    def _do(self, name: str, _: bool = False) -> None:
        if name == "take_out":
            self._hand.take_out()
        elif name == "bleed":
            self._hand.bleed()
        else:
            self._hand.put_on_pan(name)

    @Slot()
    def _on_opening(self) -> None:
        self._say()
        for name in tuple(self._down):
            self._turn(name, True)

    @Slot()
    def _on_regulator(self) -> None:
        self._say()
        self._hand.set_regulator(FULL_REGULATOR_PA * self.regulator.value() / STEPS)

    def press_key(self, key: str) -> bool:
        """Do what is on this key; holds last until :meth:`release_key`."""
        for name, _, wanted in HOLDS:
            if same_key(key, wanted):
                self._turn(name, True)
                return True
        for name, _, wanted in (*OIL, *PAN):
            if same_key(key, wanted):
                self._do(name)
                return True
        if same_key(key, SHOW.key) and self.past_bar.button.isVisible():
            self.past_bar.open()
            return True
        return False

    def release_key(self, key: str) -> None:
        """Release the valve, whether the letter or Alt came up first."""
        for name, _, wanted in HOLDS:
            letter = wanted.rpartition("+")[2]
            if same_key(key, wanted) or same_key(key, letter) or key.startswith("Alt"):
                self._turn_off(name)

    def let_go(self) -> None:
        """Release everything: another window has the keyboard."""
        for name in tuple(self._down):
            self._turn_off(name)

    def _turn_off(self, name: str) -> None:
        if name in self._down:
            self._turn(name, False)
