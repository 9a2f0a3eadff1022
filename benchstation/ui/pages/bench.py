"""The bench page: route at the left, the task in the middle, why at the right."""

from functools import partial

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import AT, Tone
from benchstation.screens.model.service import DemoHand
from benchstation.ui.pages.page import Page
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.bridge import Bridge, Message
from benchstation.ui.shell.demo_panel import DemoPanel
from benchstation.ui.shell.layouts import across, clear, down
from benchstation.ui.shell.switch_panel import SwitchPanel
from benchstation.ui.widgets.drawings.picture import Callout
from benchstation.ui.widgets.readout.actions import Actions
from benchstation.ui.widgets.readout.route import Route
from benchstation.ui.widgets.readout.task import Task
from benchstation.ui.widgets.readout.why import Why

EARLIER = "earlier"
"""The side action that this page does itself."""
SERIAL, LOT = "serial", "lot"
RECEIVE, SCANNED = "ask_receive", "scanned"
"""What is scanned at a step and not on record is received there."""
"""The field that a scan goes into when none has the keyboard."""
LEFT_PX, RIGHT_PX, WIDE_SHARE = (216, 320), (240, 370), 0.13
SPACING_PX, TOP_PX = 10, 10


class BenchPage(Page):
    """One unit at a time."""

    searched = Signal(str)
    """The serial whose records somebody wants to see."""

    def __init__(
        self, bridge: Bridge, demo_hand: DemoHand | None = None, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._bridge = bridge
        self._step = self._serial = self._who = self._unit = ""
        self._under_way: set[tuple[str, str]] = set()
        """Step and action: the same action at the next step is no second press."""
        row = across(self, (12, TOP_PX, 12, 0), 10)
        self.left = clear()
        left = down(self.left, spacing=10)
        self.route = Route()
        self.side = Actions(columns=2, quiet=True, asks=False)
        left.addWidget(self.route, 1)
        left.addWidget(self.side, 0, Qt.AlignmentFlag.AlignBottom)
        self.task = Task()
        self.right = clear()
        right = down(self.right, spacing=10)
        self.why = Why()
        right.addWidget(self.why, 1)
        self.demo: DemoPanel | None = None
        if demo_hand is not None:
            # The window puts it below every page.
            self.demo = DemoPanel(demo_hand, bridge.port)
        row.addWidget(self.left)
        middle = QVBoxLayout()
        middle.setSpacing(10)
        self.switch = SwitchPanel()
        middle.addWidget(self.task, 1)
        middle.addWidget(self.switch)
        row.addLayout(middle, 1)
        row.addWidget(self.right)
        self.switch.chosen.connect(self._on_switch)
        self.task.chosen.connect(self._on_chosen)
        self.task.edited.connect(self._on_edited)
        self.side.chosen.connect(self._on_chosen)
        self.task.form.asked.connect(self._on_asked)
        self.side.wants_reason.connect(self.task.action_bar.ask)
        for part in (self.task, self.side):
            part.refused.connect(self.refuse)

    def show_view(self, view: BenchView) -> None:
        """Show a moment."""
        if self._who and not view.who and self.task.form.touched():
            # Whoever was here is signed out; the form goes, what stands in it does not.
            self._on_edited()
        self._step, self._serial, self._who = view.task.step_id, view.serial, view.who
        self._unit = " ".join(view.unit_title.split()) if view.steps else ""
        self.route.show_view(view)
        self.side.show_actions(view.side_actions)
        self._fit_route()
        self.task.show_task(view.task)
        self.switch.show_form(view.switch)
        self.why.show_why(view.why, view.notes)

    def rescale(self) -> None:
        """Return the sides their share: the middle keeps the most."""
        # The middle has the number, so the sides grow less than their words do.
        grown = 1 + (text_scale.percent() - 100) / 400
        for part, share, (least, most) in (
            (self.left, 0.175, LEFT_PX),
            (self.right, 0.195, RIGHT_PX),
        ):
            limit = max(most * grown, WIDE_SHARE * self.width())
            part.setFixedWidth(round(min(limit, max(least * grown, share * self.width()))))
        self._fit_route()

    def resizeEvent(self, event: object) -> None:
        """Return the sides their share of the new width."""
        self.rescale()

    def _fit_route(self) -> None:
        """Leave the steps out where others take their room: the actions stay whole."""
        room = self.height() - TOP_PX
        room -= self.side.height_for(self.left.width()) + SPACING_PX
        self.route.fit(self.left.width(), room)
        self.task.heading.name_unit("" if self.route.isVisibleTo(self) else self._unit)

    def least_height(self, width: int) -> int:
        """Return the height of the actions and the notes; all else gives way to them."""
        switch = self.switch.sizeHint().height() + SPACING_PX if self.switch.isVisible() else 0
        return TOP_PX + max(
            self.side.height_for(self.left.width()),
            self.task.least_height() + switch,
            self.why.least_height(),
        )

    def callouts(self) -> tuple[Callout, ...]:
        """Explain the three columns and what is done in them."""
        return (
            (self.route, "the route: every step, its evidence, and where you are"),
            (self.side, "what can be done at any step"),
            (self.task.primary_readout, "the number that matters now, and what to do about it"),
            (self.task.lanes, "how far it has come; green is the window to end in"),
            (self.task.scroller, "what is to be entered or confirmed at this step"),
            (self.task.trace_panel, "the last part of the trace"),
            (self.task.action_bar, "the actions, each with its key; the pedal does the blue one"),
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
        return self.task.action_bar.press_key(key) or self.side.press_key(key)

    @Slot()
    def _on_edited(self) -> None:
        """Tell the station what stands in the form, so that it can compare and draw it."""
        fields = {**self.task.form.values(), AT: self._step}
        self._bridge.act("typed", fields, self._on_typed, self.told.emit)

    def _on_typed(self, _: str) -> None:
        """Do nothing: the next moment shows it."""

    def step_on_pedal(self) -> None:
        """Do the primary action, unless one is under way: a stamp is never doubled."""
        if not self._under_way:
            self.task.action_bar.step_on_pedal()

    @Slot(str, object)
    def _on_chosen(self, action: str, given: dict[str, str]) -> None:
        if action == EARLIER:
            self.searched.emit(self._serial)
            return
        fields = self.task.form.values()
        self.task.form.clear_secrets()
        self._act(action, fields | given)

    @Slot(str, object)
    def _on_switch(self, action: str, fields: dict[str, str]) -> None:
        self._act(action, fields)

    def _act(self, action: str, fields: dict[str, str]) -> None:
        pressed = (self._step, action)
        if pressed in self._under_way:
            return
        self._under_way.add(pressed)
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
        self.told.emit(message)
        self.task.form.go_back(message.field)

    @Slot(str)
    def _on_asked(self, action: str) -> None:
        """Look up what a field names; the form is filled when the answer is there."""
        self._bridge.act(action, self.task.form.values(), self._on_filled, self.told.emit)

    def _on_filled(self, sentence: str) -> None:
        self.told.emit(Message(sentence, Tone.GOOD))
        self._bridge.refresh()
        self.task.form.go_on()
