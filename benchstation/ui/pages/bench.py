"""The bench page: route at the left, the task in the middle, why or the alarms at the right."""

from functools import partial

from PySide6.QtCore import QRect, Qt, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import AT, Tone
from benchstation.screens.model.service import DemoHand
from benchstation.ui.pages.page import Page
from benchstation.ui.shell.bridge import Bridge, Message
from benchstation.ui.shell.demo_panel import DemoPanel
from benchstation.ui.shell.labels import BoxLabel, set_tone
from benchstation.ui.shell.layouts import clear
from benchstation.ui.shell.printing import Paper, Printing
from benchstation.ui.shell.switch_panel import SwitchPanel
from benchstation.ui.widgets.drawings.picture import Callout
from benchstation.ui.widgets.forms.live_judge import LiveJudge
from benchstation.ui.widgets.readout.action_button import ActionButton, same_key
from benchstation.ui.widgets.readout.action_slots import is_menu
from benchstation.ui.widgets.readout.drawer import Drawer
from benchstation.ui.widgets.readout.grid import (
    EDGE_PX,
    GAP_PX,
    MORE_PX,
    PAD_PX,
    ROW_GAP_PX,
    Grid,
    grid_of,
)
from benchstation.ui.widgets.readout.guide import HIDE
from benchstation.ui.widgets.readout.heading import MORE, MORE_KEY
from benchstation.ui.widgets.readout.route import Route
from benchstation.ui.widgets.readout.task import Task
from benchstation.ui.widgets.readout.why import Why

EARLIER, OPEN_RECORD = "earlier", "open_record"
"""The actions that this page does itself."""
SERIAL, LOT = "serial", "lot"
RECEIVE, SCANNED = "ask_receive", "scanned"
"""What is scanned at a step and not on record is received there."""
"""The field that a scan goes into when none has the keyboard."""
TOP_PX, DRAWER_LEAST_PX, ANY_WIDTH = 8, 260, 16_777_215
NOTE_SIZES = (13, 12, 11, 10, 9, 8, 7)


class BenchPage(Page):
    """One unit at a time, in a grid that stays: nothing moves but what is measured."""

    searched = Signal(str)
    """The serial whose records somebody wants to see."""

    def __init__(
        self, bridge: Bridge, demo_hand: DemoHand | None = None, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._bridge = bridge
        self._step = self._serial = self._who = ""
        self._under_way: set[tuple[str, str]] = set()
        """Step and action: the same action at the next step is no second press."""
        self._view: BenchView | None = None
        self._alarms: QWidget | None = None
        self._menu = ""
        self.left = self.route = Route(self)
        self.task = Task(self)
        self.printing = Printing(bridge, self.told.emit, self)
        self.right = clear(self)
        self.why = Why(self.right)
        self.switch = SwitchPanel(self.right)
        self.more = ActionButton(quiet=True, parent=self)
        self.more.show_action(MORE)
        self.notes = BoxLabel(NOTE_SIZES, bold=False)
        self.notes.setParent(self)
        self.notes.setAlignment(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft)
        set_tone(self.notes, Tone.QUIET)
        self.drawer = Drawer(self)
        self.side = self.drawer.side
        self.demo: DemoPanel | None = None
        if demo_hand is not None:
            self.demo = DemoPanel(demo_hand, bridge.port, self)
        self.judge = LiveJudge(self.task.form, bridge, self._judged)
        self.switch.chosen.connect(self._on_switch)
        self.task.chosen.connect(self._on_chosen)
        self.task.edited.connect(self._on_edited)
        self.task.more.connect(self._turn_drawer)
        self.task.form.asked.connect(self._on_asked)
        self.task.action_bar.turned.connect(self.drawer.shut)
        self.more.clicked.connect(self._turn_drawer)
        self.why.guide.hide_button.clicked.connect(self._hide_guide)
        self.drawer.turned.connect(self._on_drawer)
        self.task.refused.connect(self.refuse)
        for part in (self.side, self.drawer.more):
            part.chosen.connect(self._on_chosen)
            part.wants_reason.connect(self.task.action_bar.ask)
            part.refused.connect(self.refuse)

    def show_view(self, view: BenchView) -> None:
        """Show a moment."""
        if self._who and not view.who and self.task.form.touched():
            # Whoever was here is signed out; the form goes, what stands in it does not.
            self._on_edited()
        if view.task.step_id != self._step or view.switch is not None:
            self.drawer.shut()
        self._step, self._serial, self._who = view.task.step_id, view.serial, view.who
        self._view = view
        self.route.show_view(view)
        self.task.show_proof(self._unit_of(view), view)
        self.task.show_task(view.task)
        self.switch.show_form(view.switch)
        self.why.show_why(view.why, view.guide)
        self.notes.show_text("\n".join(view.notes))
        self.drawer.show_view(view, self.task.action_bar.rest)
        menu = self._step if is_menu(view.task.actions) else ""
        if menu != self._menu:
            # A choice of many ways is the drawer itself, open until one is taken.
            self._menu = menu
            self.drawer.set_closable(not menu)
            if menu and not self.drawer.is_open:
                self.drawer.turn()
        self._place()

    @staticmethod
    def _unit_of(view: BenchView) -> str:
        return view.unit_title if view.steps else ""

    def take_alarms(self, panel: QWidget | None, *, shown: bool = False) -> None:
        """Leave the right column to the alarms while there are any, unless they are elsewhere."""
        before = self._alarms is not None and not self._alarms.isHidden()
        if panel is not None:
            if panel.parentWidget() is not self.right:
                panel.setParent(self.right)
                panel.setMinimumWidth(0)
                panel.setMaximumWidth(ANY_WIDTH)
            panel.setVisible(shown)
        if panel is not self._alarms or shown != before:
            self._alarms = panel
            self._place()

    @property
    def grid(self) -> Grid:
        """Return the places in force."""
        return grid_of(self.window().width(), self.window().height())

    def rescale(self) -> None:
        """Place everything at the text size in force."""
        self._place()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Place everything in the new room."""
        self._place()

    def _place(self) -> None:
        grid, high = self.grid, self.height() - TOP_PX
        if high <= 0:
            return
        self.route.setGeometry(EDGE_PX, TOP_PX, grid.left, high)
        middle = EDGE_PX + grid.left + GAP_PX
        right = middle + grid.middle + GAP_PX
        # More and the standing words keep their place in the row of the actions.
        foot = self.height() - GAP_PX - grid.actions
        self.more.set_slot(MORE_PX, grid.actions)
        self.more.move(right, foot)
        wide = grid.right - MORE_PX - GAP_PX
        self.notes.setGeometry(right + MORE_PX + GAP_PX, foot, wide, grid.actions)
        self.task.set_grid(grid)
        self.task.setGeometry(middle, TOP_PX, grid.middle, high)
        self.right.setGeometry(right, TOP_PX, grid.right, max(1, foot - GAP_PX - TOP_PX))
        self._place_right()
        if self.drawer.is_open:
            self._place_drawer(grid)

    def _place_right(self) -> None:
        """Share the right column: alarms above all, who takes over, and why in what is left."""
        room, top = self.right.rect(), 0
        alarms = self._alarms if self._alarms is not None and not self._alarms.isHidden() else None
        switch = self.switch.needed(room.width()) if self.switch.is_shown else 0
        if alarms is not None:
            top = room.height() - (switch + GAP_PX if switch else 0)
            alarms.setGeometry(0, 0, room.width(), max(1, top))
            top += GAP_PX
        if switch:
            self.switch.setGeometry(0, top, room.width(), min(switch, room.height() - top))
            top += switch + GAP_PX
        left = room.height() - top
        self.why.setVisible(alarms is None and not self.why.is_empty and left >= DRAWER_LEAST_PX)
        self.why.setGeometry(0, top, room.width(), max(1, left))

    def _place_drawer(self, grid: Grid) -> None:
        """Lay the drawer over the lower part of the task: the number stays in sight."""
        task = self.task.geometry()
        low = self.height() - GAP_PX - grid.actions - ROW_GAP_PX - grid.reason - ROW_GAP_PX
        view = self._view
        top = task.top() + TOP_PX + grid.heading + ROW_GAP_PX
        if view is not None and view.task.big is not None:
            top += grid.caution + grid.readout + 2 * ROW_GAP_PX
        top = max(TOP_PX, min(top, low - DRAWER_LEAST_PX))
        self.drawer.setGeometry(
            QRect(task.left() + PAD_PX // 2, top, task.width() - PAD_PX, max(1, low - top))
        )

    @Slot()
    def _turn_drawer(self) -> None:
        """Open the drawer, or close it; while somebody takes over, Esc is that form's."""
        if not self.switch.is_shown and not self._menu:
            self.drawer.turn()

    @Slot(bool)
    def _on_drawer(self, opened: bool) -> None:
        if opened and self._view is not None:
            self.drawer.show_view(self._view, self.task.action_bar.rest)
            self._place_drawer(self.grid)
        elif not opened:
            self.task.begin_again()

    @property
    def refusal(self) -> str:
        """Return what was refused here and still stands."""
        return self.task.refusal

    def show_wrong(self, message: Message) -> None:
        """Tell what was refused at its field, else where the reasons stand."""
        self.task.refuse(message.text, message.field)

    def forgive(self) -> None:
        """Take what was refused away."""
        self.task.forgive()

    @Slot(str)
    def refuse(self, why: str) -> None:
        """Tell why something is not possible now, where the reasons stand."""
        self.task.refuse(why)

    def least_height(self, width: int) -> int:
        """Return nothing: its parts give way to the number and the actions, and never scroll."""
        return 0

    def callouts(self) -> tuple[Callout, ...]:
        """Explain the three columns and what is done in them."""
        return (
            (self.route, "the route: every step, and where you are"),
            (self.task.primary_readout, "the number that matters now, and what to do about it"),
            (self.task.lanes, "how far it has come; green is the window to end in"),
            (self.task.scroller, "what is to be entered or confirmed at this step"),
            (self.task.trace_panel, "the last part of the trace"),
            (self.task.reason, "why an action is not possible, and what was refused"),
            (self.task.action_bar, "the actions, each with its key; the pedal does the blue one"),
            (self.more, "everything else that can be done, and all that is to be read in full"),
            (self.why, "why the target is what it is, to be checked by hand"),
        )

    def wants_scan(self) -> bool:
        """Return True when a serial or a lot is asked for."""
        form = self.task.form
        return form.has(SERIAL) or form.has(LOT) or form.wants_scan()

    def take_scan(self, scan: str) -> bool:
        """Put a scan into the serial or the lot, or choose it; what is not offered is received."""
        form = self.task.form
        field = next((name for name in (SERIAL, LOT) if form.has(name)), "")
        if field:
            form.put_scan(field, scan)
        elif not form.wants_scan():
            return False
        elif not form.choose_scanned(scan):
            self._act(RECEIVE, {**form.values(), SCANNED: scan})
        return True

    def chooses(self, scan: str) -> bool:
        """Choose what was scanned into a text where a field offers it; say whether one does."""
        return self.task.form.choose_scanned(scan)

    def press_key(self, key: str) -> bool:
        """Do the action on this key."""
        if self.switch.press_key(key):
            return True
        if same_key(key, MORE_KEY):
            self._turn_drawer()
            return True
        if same_key(key, HIDE.key) and self.why.guide.isVisible():
            self._hide_guide()
            return True
        if self.drawer.is_open and same_key(key, "Esc") and not self._menu:
            self.drawer.shut()
            return True
        return self.task.action_bar.press_key(key) or self.side.press_key(key)

    @Slot()
    def _hide_guide(self) -> None:
        self._bridge.act(HIDE.id, {}, self._on_typed, self.told.emit)

    @Slot()
    def _on_edited(self) -> None:
        """Tell the station what stands in the form, so that it can compare and draw it."""
        fields = {**self.task.form.values(), AT: self._step}
        self._bridge.act("typed", fields, self._on_typed, self.told.emit)

    def _judged(self) -> tuple[str, dict[str, str]]:
        """Return what the step's form does."""
        actions = self._view.task.actions if self._view is not None else ()
        does = next((one.does or one.id for one in actions if one.primary), "")
        return does, {AT: self._step}

    def _on_typed(self, _: str) -> None:
        """Do nothing: the next moment shows it."""

    def step_on_pedal(self) -> None:
        """Do the primary action, unless one is under way: a stamp is never doubled."""
        if not self._under_way:
            self.task.action_bar.step_on_pedal()

    @Slot(str, object)
    def _on_chosen(self, action: str, given: dict[str, str]) -> None:
        if action in (EARLIER, OPEN_RECORD):
            self.searched.emit(self._serial)
            return
        if action in tuple(Paper):
            self._print(Paper(action))
            return
        fields = self.task.form.values()
        self.task.form.clear_secrets()
        self._act(action, fields | given)

    def _print(self, paper: Paper) -> None:
        """Print or open a paper of the unit that is filed."""
        filed = self._view.filed if self._view is not None else None
        if filed is not None:
            self.printing.do(paper, filed.unit_id)

    @Slot(str, object)
    def _on_switch(self, action: str, fields: dict[str, str]) -> None:
        self._act(action, fields)

    def _act(self, action: str, fields: dict[str, str]) -> None:
        pressed = (self._step, action)
        if pressed in self._under_way:
            return
        self._under_way.add(pressed)
        self.task.forgive()
        self.told.emit(Message("Working…", Tone.QUIET))
        self._bridge.act(
            action, fields, partial(self._on_done, pressed), partial(self._on_failed, pressed)
        )

    def _on_done(self, pressed: tuple[str, str], sentence: str) -> None:
        self._under_way.discard(pressed)
        self.told.emit(Message(sentence, Tone.GOOD))
        self._bridge.refresh()

    def _on_failed(self, pressed: tuple[str, str], message: Message) -> None:
        self._under_way.discard(pressed)
        # The foot is for what happened; what was refused stands where it is to be put right.
        self.told.emit(Message("Nothing was done.", Tone.QUIET))
        self.task.refuse(message.text, message.field)

    @Slot(str)
    def _on_asked(self, action: str) -> None:
        """Look up what a field names; the form is filled when the answer is there."""
        self.task.forgive()
        self._bridge.act(action, self.task.form.values(), self._on_filled, self._on_not_filled)

    def _on_not_filled(self, message: Message) -> None:
        self.task.refuse(message.text, message.field)

    def _on_filled(self, sentence: str) -> None:
        self.told.emit(Message(sentence, Tone.GOOD))
        self._bridge.refresh()
        self.task.form.go_on()
