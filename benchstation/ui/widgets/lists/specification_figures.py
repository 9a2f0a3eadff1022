"""What a specification makes of a unit: the drawing to scale, its travel, and two curves."""

from functools import partial

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QSlider,
    QVBoxLayout,
    QWidget,
)

from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.elements import ActionView, StackView, TermGroup, Tone
from benchstation.screens.model.specifications import DRAFT, SpecificationDetail
from benchstation.ui.shell.labels import FitLabel, label, set_role, set_tone
from benchstation.ui.shell.layouts import across, clear, down
from benchstation.ui.shell.notice import Notice
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.drawings.damper import Damper
from benchstation.ui.widgets.drawings.stack_drawing import StackDrawing
from benchstation.ui.widgets.readout.action_button import ActionButton, same_key
from benchstation.ui.widgets.readout.mark import Mark
from benchstation.ui.widgets.readout.terms import Terms

STEPS, KEY_STEP = 100, 10
IN, OUT, KEYS = "Alt+Right", "Alt+Left", "Alt+←→"
TEMPERATURES = (
    ("cold", "Cold", "Ctrl+1"),
    ("reference", "Reference", "Ctrl+2"),
    ("hot", "Hot", "Ctrl+3"),
)
SIDE_BY_SIDE_PX = 460
LOCKED = (
    "There is nothing to draw here: at this temperature the oil leaves the gas no room, and the "
    "unit would lock solid."
)
WHOLE = "All that it says"
OLD = "Drawn from the last text that could be read."


class NamedStack(QWidget):
    """A disc stack drawn from the side, with what it is."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.name = label("", "quiet", wrap=True)
        self.drawing = StackDrawing()
        box = down(self, spacing=2)
        box.addWidget(self.name)
        box.addWidget(self.drawing)

    def show_stack(self, name: str, view: StackView) -> None:
        """Show this stack."""
        self.name.setText(name)
        self.drawing.show_stack(view)


class Figures(QFrame):
    """The middle of the page."""

    moved = Signal()
    """Another travel or temperature is wanted."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self.at = "reference"
        self.shown: SpecificationDetail | None = None
        self.title = FitLabel((23, 21, 19, 17), one_line_from=17, parent=self)
        self.mark = Mark(24)
        self.state = label("", "strong")
        self.subtitle = label("", "quiet", wrap=True)
        self.notice = Notice()
        self.empty = label("", "quiet", wrap=True)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.caption = label("", "large", wrap=True)
        self.damper = Damper()
        self.travel = QSlider(Qt.Orientation.Horizontal)
        self.travel.setRange(0, STEPS)
        self.travel.setPageStep(KEY_STEP)
        self.travel.setAccessibleName("rod travel in percent")
        self.travel.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.travel_words = label("", "small", wrap=True)
        self.buttons = {name: ActionButton(quiet=True) for name, _, _ in TEMPERATURES}
        self.curves: list[QWidget] = []
        self.stacks: list[NamedStack] = []
        self._lay_out()
        self._show_knobs()
        self.travel.valueChanged.connect(self._on_knob)
        for name, button in self.buttons.items():
            button.setCheckable(True)
            button.clicked.connect(partial(self._choose, name))

    def _lay_out(self) -> None:
        box = down(self, (16, 12, 6, 8), 6)
        head = QHBoxLayout()
        head.setSpacing(10)
        head.addWidget(self.title, 1)
        head.addWidget(self.mark)
        head.addWidget(self.state)
        head.addSpacing(8)
        box.addLayout(head)
        box.addWidget(self.subtitle)
        inner = clear()
        column = down(inner, (0, 0, 8, 0), 6)
        column.addWidget(self.empty)
        column.addWidget(self.notice)
        column.addWidget(self.caption)
        column.addWidget(self.damper)
        self.controls = clear()
        controls = across(self.controls, spacing=8)
        sliding = QVBoxLayout()
        sliding.setSpacing(2)
        sliding.addWidget(self.travel_words)
        sliding.addWidget(self.travel)
        controls.addLayout(sliding, 1)
        controls.addSpacing(6)
        for button in self.buttons.values():
            controls.addWidget(button)
        column.addWidget(self.controls)
        self.plots = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self.plots.setSpacing(10)
        column.addLayout(self.plots, 1)
        self.stack_row = QHBoxLayout()
        self.stack_row.setSpacing(10)
        column.addLayout(self.stack_row)
        self.whole_title = label(WHOLE, "title")
        self.whole = Terms()
        column.addWidget(self.whole_title)
        column.addWidget(self.whole)
        self.scroller = Scroller(inner, "drawing and curves")
        box.addWidget(self.scroller, 1)
        self._column = column

    @property
    def share(self) -> float:
        """Return the share of the travel that is shown, 0..1."""
        return self.travel.value() / STEPS

    def show_nothing(self, words: str) -> None:
        """Show what belongs here."""
        self.shown = None
        self._show_whole(())
        head = (self.title, self.mark, self.state, self.subtitle)
        for widget in (*head, self.notice, self.caption, self.damper, self.controls, *self.curves):
            widget.hide()
        self._show_stacks(())
        self.empty.setText(words)
        self.empty.show()

    def show_detail(
        self, detail: SpecificationDetail, system: UnitSystem, *, writing: bool
    ) -> None:
        """Show a specification. One without figures leaves those that stand, and says so."""
        row, known = detail.row, bool(detail.groups)
        old = not known and self.shown is not None
        if row.family or not old:
            self.title.show_text(row.family or "A text that cannot be read")
        self.subtitle.setText(OLD if old else "" if writing else row.title)
        set_tone(self.subtitle, Tone.CAUTION if old else Tone.QUIET)
        self.subtitle.setVisible(bool(self.subtitle.text()))
        self.state.setText("being written" if writing else row.line.state)
        set_tone(self.state, row.tone)
        self.mark.set_tone(row.tone)
        for widget in (self.title, self.mark, self.state):
            widget.show()
        self.empty.hide()
        if not old:
            self._show_figures(detail, system)
        locked = LOCKED if known and detail.drawing is None else ""
        self._show_whole(() if writing else detail.whole)
        said = (*detail.problems, detail.not_yet) if detail.row.state == DRAFT else ()
        problems = "" if writing else "\n".join(words for words in said if words)
        self.notice.show_words(problems or locked, Tone.CAUTION)

    def _show_figures(self, detail: SpecificationDetail, system: UnitSystem) -> None:
        drawing = detail.drawing
        self.shown = detail if detail.groups else None
        if drawing is not None:
            self.caption.setText(drawing.caption)
            self.damper.show_drawing(drawing, system)
        for widget in (self.caption, self.damper):
            widget.setVisible(drawing is not None)
        self.controls.setVisible(bool(detail.groups))
        self._show_curves(detail)
        self._show_stacks(detail.stacks)

    def _show_stacks(self, stacks: tuple[tuple[str, StackView], ...]) -> None:
        """Show the disc stacks side by side, as they are specified."""
        while len(self.stacks) < len(stacks):
            self.stacks.append(NamedStack())
            self.stack_row.addWidget(self.stacks[-1], 1)
        for count, widget in enumerate(self.stacks):
            widget.setVisible(count < len(stacks))
            if count < len(stacks):
                widget.show_stack(*stacks[count])

    def _show_whole(self, groups: tuple[TermGroup, ...]) -> None:
        """Show all that it says, below the curves; while it is written it stands at the left."""
        if groups:
            self.whole.show_groups(groups)
        self.whole.setVisible(bool(groups))
        self.whole_title.setVisible(bool(groups))

    def _show_curves(self, detail: SpecificationDetail) -> None:
        from benchstation.ui.widgets.plots.curves import Curves

        while len(self.curves) < len(detail.curves):
            made = Curves()
            self.plots.addWidget(made, 1)
            self.curves.append(made)
        for count, widget in enumerate(self.curves):
            widget.setVisible(count < len(detail.curves))
            if count < len(detail.curves) and isinstance(widget, Curves):
                widget.show_curves(detail.curves[count])

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the curves side by side where they find room."""
        wide = self.width() >= SIDE_BY_SIDE_PX
        way = QBoxLayout.Direction
        self.plots.setDirection(way.LeftToRight if wide else way.TopToBottom)

    def press_key(self, key: str) -> bool:
        """Turn the knob on this key."""
        for name, _, wanted in TEMPERATURES:
            if same_key(key, wanted):
                self._choose(name)
                return True
        for wanted, step in ((IN, KEY_STEP), (OUT, -KEY_STEP)):
            if same_key(key, wanted):
                self.travel.setValue(self.travel.value() + step)
                return True
        return False

    def _choose(self, name: str, _: bool = False) -> None:
        changed = name != self.at
        self.at = name
        self._show_knobs()
        if changed:
            self.moved.emit()

    @Slot()
    def _on_knob(self) -> None:
        self._show_knobs()
        self.moved.emit()

    def _show_knobs(self) -> None:
        self.travel_words.setText(f"rod {self.travel.value()} % in  {KEYS}")
        for name, words, key in TEMPERATURES:
            self.buttons[name].show_action(ActionView(name, words, key, primary=name == self.at))
            self.buttons[name].setChecked(name == self.at)
