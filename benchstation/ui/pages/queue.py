"""Queue: what waits, is worked, lies aside or was filed; orders are placed and units started."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QFileDialog, QWidget

from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, Tone
from benchstation.screens.model.queue import QueueOrder, QueueRow, QueueView, UnitsRead
from benchstation.ui.pages.list_page import ListPage
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.bridge import Bridge, Message
from benchstation.ui.shell.labels import frame, label
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.drawings.picture import Callout
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.forms.live_judge import LiveJudge
from benchstation.ui.widgets.lists.set_table import SetTable

START, FETCH, GO, PLACE, LIST, CHANGE, WITHDRAW = (
    "start",
    "fetch",
    "go",
    "place",
    "list",
    "change",
    "withdraw",
)
DOES = {
    START: "start_line",
    FETCH: "fetch",
    PLACE: "place_order",
    LIST: "import_units",
    CHANGE: "change_order",
    WITHDRAW: "withdraw",
}
"""The bench's names."""
ONE, PAIR, FOUR, SEND, LEAVE = "one", "pair", "four", "send", "leave"
BROWSE, FILTER = "browse", "Lists of units (*.csv);;All files (*)"
COUNTS = {ONE: 1, PAIR: 2, FOUR: 4}
NOTHING = (
    "Nothing waits.\n\nPlace an order, or read a list of units. A serial that waits here is known "
    "at the bench: scan it there, and family, oil lot, order and position are filled in."
)
PATH = (
    FieldView("path", "List of units, a CSV file", FieldKind.TEXT, hint="its path on this machine"),
)
LIST_WORDS = (
    "The first line names the columns: serial,family,position,order and if you like due. "
    "A serial may be empty: it is scanned when the unit is started. "
    "All of a list is imported, or none of it."
)


class QueuePage(ListPage):
    """Units at the left; at the right the order that is chosen, or a form."""

    to_bench = Signal()
    """A unit was started or fetched, or is there already: go and see it."""

    name = "units in the queue"
    none_yet = NOTHING

    def __init__(self, bridge: Bridge, parent: QWidget | None = None) -> None:
        super().__init__(bridge, parent)
        self.view: QueueView | None = None
        self.doing = ""
        """Which form is open: empty, or the action that opened it."""
        self.units = 1
        self.read: UnitsRead | None = None
        self.said = label("", "quiet", wrap=True)
        self.title = label("", "title", wrap=True)
        self.words = label("", "quiet", wrap=True)
        self.form = Form()
        self.judge = LiveJudge(self.form, bridge, self._judged)
        self.sets: list[SetTable] = []
        self._lay_out()
        self.form.submitted.connect(self.action_bar.press_primary)
        self.form.typed.connect(self._on_typed)

    def _lay_out(self) -> None:
        self._row, _, right = self.lay_out_columns((self.said,), 5, 7)
        panel = frame("panel")
        box = down(panel, (18, 14, 10, 10))
        box.addWidget(self.title)
        box.addWidget(self.words)
        inner = clear()
        self._column = down(inner, (0, 6, 10, 0), 16)
        self._column.addWidget(self.form)
        self._column.addStretch(1)
        self.scroller = Scroller(inner, "the order", focus=Qt.FocusPolicy.NoFocus)
        box.addWidget(self.scroller, 1)
        right.addWidget(panel, 1)
        right.addWidget(self.action_bar)
        self.rescale()

    def rescale(self) -> None:
        """Return the sets more of the width where the text is large: four columns stand there."""
        large = text_scale.is_large()
        self._row.setStretch(0, 4 if large else 5)
        self._row.setStretch(1, 8 if large else 7)
        for table in self.sets:
            table.rescale()

    def callouts(self) -> tuple[Callout, ...]:
        """Explain list, order and actions."""
        return (
            (
                self.list,
                "what waits, is started, is set aside or was filed lately; late ones say so",
            ),
            (
                self.scroller,
                "the order, and its set side by side: how far apart, and what is allowed",
            ),
            (self.action_bar, "what may be done, each on its key"),
        )

    def unkept(self) -> str:
        """Return what is typed for an order that is not placed yet."""
        touched = [row.value() for row in self.form.rows if row.touched and row.value()]
        return ", ".join(touched) if self.doing in (PLACE, CHANGE) else ""

    # --- what is there -------------------------------------------------------------------------

    def look(self) -> None:
        """Ask for the queue."""
        self._bridge.follow(self._bridge.port.find_queue, self._on_found, self.told.emit)

    def _on_found(self, view: QueueView) -> None:
        chosen, self.view = self.chosen, view
        self.said.setText(view.said)
        self.said.setVisible(bool(view.said))
        self.show_rows(view.rows)
        led = self.take_place(view.rows)
        if view.rows:
            self.list.choose(
                lambda row: row is led,
                lambda row: chosen is not None and row.line.key == chosen.line.key,
                lambda row: row.state == "waiting",
            )
        self._show()

    @property
    def chosen(self) -> QueueRow | None:
        """Return the row that is chosen."""
        row: QueueRow | None = self.list.current
        return row

    def open_current(self) -> None:
        """Show the order of the unit that was chosen."""
        self._show()

    def _show(self) -> None:
        """Show the open form, or the order of the unit that is chosen."""
        fields = self._fields()
        self.form.show_fields(self.doing, fields)
        self.form.setVisible(bool(fields))
        row, view = self.chosen, self.view
        order = view.orders.get(row.order) if view is not None and row is not None else None
        if self.doing:
            self.title.setText(
                {PLACE: "Place an order", LIST: "Read a list of units"}.get(
                    self.doing, f"Change order {order.order if order else ''}"
                )
            )
            self.words.setText(self._list_words() if self.doing == LIST else "")
        else:
            self.title.setText(order.title if order else row.serial if row else "")
            self.words.setText("\n".join(part for part in self._unit_words(row, order) if part))
        self.words.setVisible(bool(self.words.text()))
        views = order.sets if order is not None and not self.doing else ()
        while len(self.sets) < len(views):
            self.sets.append(SetTable())
            self._column.insertWidget(self._column.count() - 1, self.sets[-1])
        for count, table in enumerate(self.sets):
            if count < len(views):
                table.show_set(views[count])
            table.setVisible(count < len(views))
        self.action_bar.show_actions(self._actions(row))

    @staticmethod
    def _unit_words(row: QueueRow | None, order: QueueOrder | None) -> tuple[str, ...]:
        if row is None:
            return ()
        unit = ", ".join(p for p in (row.name, row.position, row.family) if p)
        state = ", ".join(p for p in (row.state, row.reason, row.due_words) if p)
        return (order.note if order is not None else "", f"{unit}: {state}")

    def _list_words(self) -> str:
        if self.read is None:
            return LIST_WORDS
        return "\n".join((self.read.said, *self.read.rows))

    def _fields(self) -> tuple[FieldView, ...]:
        if self.view is None or not self.doing:
            return ()
        if self.doing == PLACE:
            return self.view.forms[self.units]
        if self.doing == LIST:
            return PATH
        row = self.chosen
        order = self.view.orders.get(row.order) if row is not None else None
        return order.change if order is not None else ()

    def _actions(self, row: QueueRow | None) -> tuple[ActionView, ...]:
        if self.doing == PLACE:
            return (
                ActionView(ONE, "One unit", "Ctrl+1"),
                ActionView(PAIR, "Set of 2 (axle)", "Ctrl+2"),
                ActionView(FOUR, "Set of 4", "Ctrl+4"),
                ActionView(LEAVE, "Cancel", "Esc"),
                ActionView(SEND, "Place the order", "Ctrl+S", primary=True, does=DOES[PLACE]),
            )
        if self.doing:
            words = "Change the order"
            if self.doing == LIST:
                words = "Read the list" if self.read is None else "Take these units"
            key = "Ctrl+S" if self.doing == CHANGE else "Return"
            leave = ActionView(LEAVE, "Cancel", "Esc")
            browse = (ActionView(BROWSE, "Choose a file", "Ctrl+B"),) if self.doing == LIST else ()
            return *browse, leave, ActionView(SEND, words, key, primary=True, does=DOES[self.doing])
        state = row.state if row is not None else ""
        waits = state in ("waiting", "rejected")
        ordered = row is not None and bool(row.key)
        none = "" if ordered else "no unit of an order is chosen"
        why = none or ("" if waits else f"it is {state}")
        return (
            ActionView(PLACE, "Place an order", "Ctrl+N", does=DOES[PLACE]),
            ActionView(LIST, "Read a list", "Ctrl+O", does=DOES[LIST]),
            ActionView(CHANGE, "Change the order", "Ctrl+E", ordered, none, does=DOES[CHANGE]),
            ActionView(
                WITHDRAW,
                "Withdraw unit",
                "Ctrl+Delete",
                not why,
                why,
                needs_reason=True,
                does=DOES[WITHDRAW],
            ),
            _first_action(state, waits=waits),
        )

    # --- doing ---------------------------------------------------------------------------------

    @Slot(str, object)
    def _on_chosen(self, action: str, given: dict[str, str]) -> None:
        row = self.chosen
        if action in COUNTS:
            self.units = COUNTS[action]
            self._show()
            self.form.focus_first()
        elif action in (PLACE, LIST, CHANGE):
            self.doing, self.read = action, None
            self._show()
            self.form.focus_first()
        elif action == LEAVE:
            self._leave()
        elif action == BROWSE:
            self._browse()
        elif action == SEND:
            self._send()
        elif action == GO:
            self.to_bench.emit()
        elif row is not None and action == START:
            self._act(DOES[START], {"line": row.key}, self._on_started)
        elif row is not None and action == FETCH:
            self._act(DOES[FETCH], {"unit": row.unit_id}, self._on_started)
        elif row is not None:
            self._act(DOES[WITHDRAW], {"line": row.key, **given}, self._on_done)

    def _browse(self) -> None:
        """Choose the list in the system's dialog, and read it."""
        path, _ = QFileDialog.getOpenFileName(self, "Choose a list of units", "", FILTER)
        if path:
            self.form.put_scan("path", path)
            self.read = None
            self._send()

    @Slot(str)
    def _on_typed(self, _: str) -> None:
        """Void what was read when another file is named: nothing unseen is imported."""
        if self.doing == LIST and self.read is not None:
            self.read = None
            self._show()

    def _send(self) -> None:
        fields = self.form.values()
        if self.doing == PLACE:
            self._act(DOES[PLACE], {**fields, "count": str(self.units)}, self._on_done)
        elif self.doing == CHANGE and self.chosen is not None:
            self._act(DOES[CHANGE], {**fields, "order": self.chosen.order}, self._on_done)
        elif self.read is not None:
            self._act(DOES[LIST], {"csv": self.read.text}, self._on_done)
        else:
            path = Path(fields.get("path", "").strip())
            self._bridge.follow(
                partial(self._bridge.port.read_units, path),
                partial(self._on_read, path),
                self.told.emit,
            )

    def _judged(self) -> tuple[str, dict[str, str]]:
        """Return what the open form does, and what goes with its fields."""
        if self.doing == PLACE:
            return DOES[PLACE], {"count": str(self.units)}
        if self.doing == CHANGE and self.chosen is not None:
            return DOES[CHANGE], {"order": self.chosen.order}
        return "", {}

    def _act(self, action: str, fields: dict[str, str], done: Callable[[str], None]) -> None:
        self.told.emit(Message("Working…", Tone.QUIET))
        self._bridge.act(action, fields, done, self.told.emit)

    def _on_read(self, path: Path, read: UnitsRead) -> None:
        if path != Path(self.form.values().get("path", "").strip()):
            return
        self.read = read
        self._show()
        self.told.emit(Message(f"{read.said} Import them, or cancel.", Tone.GOOD))

    def _on_done(self, sentence: str) -> None:
        self.told.emit(Message(sentence, Tone.GOOD))
        self._leave()
        self.look()

    def _on_started(self, sentence: str) -> None:
        self.told.emit(Message(sentence, Tone.GOOD))
        self._bridge.refresh()
        self.to_bench.emit()

    def _leave(self) -> None:
        self.doing, self.read, self.units = "", None, 1
        self._show()
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)


def _first_action(state: str, *, waits: bool) -> ActionView:
    """Return what Enter does with a unit in this state: it leads to the bench wherever it can."""
    if state == "started":
        return ActionView(GO, "Go to the bench", "Return", primary=True)
    if state in ("set aside", "2nd reading"):
        return ActionView(FETCH, "Fetch to the bench", "Return", primary=True, does=DOES[FETCH])
    why = "" if waits else f"it is {state}" if state else "nothing is chosen"
    return ActionView(
        START, "Start this unit", "Return", waits, why, primary=True, does=DOES[START]
    )
