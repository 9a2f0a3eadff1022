"""A specification as a form over its text: parts by button, every figure with what it is.

It holds no values of its own. What is typed becomes a change of the text, and what stands here is
what the last check read out of the text.
"""

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import QFrame, QGridLayout, QVBoxLayout, QWidget

from benchstation.screens.model.elements import ActionView, Tone
from benchstation.screens.model.specification_editing import (
    EXAMPLE_TABLE,
    with_entry,
    with_entry_moved,
    with_value,
    without_entry,
)
from benchstation.screens.model.specifications import (
    SheetEntry,
    SheetField,
    SheetList,
    SheetPart,
    written,
)
from benchstation.ui.shell.labels import frame, label, set_role
from benchstation.ui.shell.layouts import across, clear, down
from benchstation.ui.shell.notice import Notice
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.forms.fields import TextField
from benchstation.ui.widgets.forms.sheet_row import FormButton, SheetRow, head, small_button
from benchstation.ui.widgets.readout.action_button import ActionButton, same_key

Change = Callable[[str], str]
APPLY_AFTER_MS = 300
NEXT, BEFORE, BACK = "Ctrl+PgDown", "Ctrl+PgUp", "Alt+Up"
COLUMNS = 4
LEGEND = "◆ still the example's: type your own, or press Enter where it is right as it stands."
ROUTE, STEP_LEAD = "steps", 2
"""Of a step, title and instruction stand above what it requires; the rest below."""


class SpecificationForm(QFrame):
    """Buttons for the parts, and the fields of the one that is chosen."""

    edited = Signal(object)
    """A :data:`Change` of the text."""
    pointed = Signal(object)
    """The :class:`SheetField` that the keyboard is in."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_role(self, "panel")
        self.parts: tuple[SheetPart, ...] = ()
        self.section = 0
        self.step: int | None = None
        """Which step is open; ``None``: the list of steps."""
        self.adding: SheetList | None = None
        self._below: int | None = None
        """The step that a new one comes after."""
        self.rows: list[SheetRow] = []
        self.step_buttons: list[FormButton] = []
        self.confirms: list[ActionButton] = []
        """Of each list that is still the example's: it is right as it stands."""
        self._stops: list[QWidget] = []
        """What Enter leads to, one after the other."""
        self._lead = False
        self._shape: object = None
        self._focus = ""
        box = down(self, (12, 10, 6, 8), 6)
        self._tabs = QGridLayout()
        self._tabs.setSpacing(4)
        self.tabs: list[FormButton] = []
        box.addLayout(self._tabs)
        self.problem = Notice()
        self.legend = label(LEGEND, "small", wrap=True)
        box.addWidget(self.legend)
        box.addWidget(self.problem)
        self.inner = clear()
        self._column = down(self.inner, (0, 0, 8, 0), 8)
        self.scroller = Scroller(
            self.inner, "fields of the specification", focus=Qt.FocusPolicy.NoFocus
        )
        box.addWidget(self.scroller, 1)
        self._seen = QTimer(self)
        self._seen.setSingleShot(True)
        self._seen.setInterval(0)
        self._seen.timeout.connect(self._see)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(APPLY_AFTER_MS)
        self._timer.timeout.connect(self.flush)

    # --- what is shown ---------------------------------------------------------------------------

    def show_parts(self, parts: tuple[SheetPart, ...]) -> None:
        """Show what a text says; what somebody types stays."""
        self.parts = parts
        self._show_tabs()
        if not parts:
            return
        part = self._present()
        shape = (self.section, self.step, self.adding is not None, _shape_of(part))
        if self.adding is not None or shape != self._shape:
            self._build(part)
            self._shape = shape
        fields = {field.field: field for field in part.all_fields()}
        for row in self.rows:
            if row.field.field in fields:
                row.update_field(fields[row.field.field])
        if part.field == ROUTE and self.step is None:
            self._show_steps(part)
        self.problem.show_words(" ".join(_own_problems(part)), Tone.CAUTION)
        self.legend.setVisible(any(field.example for field in fields.values()))

    def _present(self) -> SheetPart:
        """Return the part that is open: a table, the route, or one step of it."""
        part = self.parts[self.section]
        if part.field == ROUTE and self.step is not None:
            steps = part.lists[0].entries
            if self.step < len(steps):
                return steps[self.step]
            self.step = None
        return part

    def _show_tabs(self) -> None:
        while len(self.tabs) < len(self.parts):
            place = len(self.tabs)
            button = FormButton()
            button.setCheckable(True)
            button.clicked.connect(partial(self._on_tab, place))
            self._tabs.addWidget(button, place // COLUMNS, place % COLUMNS)
            self.tabs.append(button)
        for place, (button, part) in enumerate(zip(self.tabs, self.parts, strict=False)):
            left = _left_in(part)
            words = f"{part.title} ◆ {left}" if left else part.title
            words = f"▲ {words}" if part.problems() else words
            chosen = place == self.section
            button.show_action(ActionView("part", words, "", primary=chosen))
            button.setChecked(chosen)

    def _build(self, part: SheetPart) -> None:
        """Make the fields of a part anew; the keyboard stays in the field that it was in."""
        kept = next((row for row in self.rows if row.field.field == self._focus), None)
        self.rows, self.step_buttons, self.confirms = [], [], []
        self._stops = []
        while (item := self._column.takeAt(0)) is not None:
            if (old := item.widget()) is not None:
                old.hide()
                old.deleteLater()
        if self.adding is not None:
            self._build_choice(self.adding)
        elif part.field == ROUTE and self.step is None:
            self._build_route(part)
        else:
            if self.step is not None and self.parts[self.section].field == ROUTE:
                self._column.addWidget(self._back_row(part))
            self._fill(self._column, part)
        self._column.addStretch(1)
        wanted = next((row for row in self.rows if row.field.field == self._focus), None)
        if wanted is not None and kept is not None:
            wanted.take_over(kept)
        elif self._lead:
            self._lead = False
            self.focus_first()

    def _fill(self, box: QVBoxLayout, part: SheetPart) -> None:
        is_step = part.field.startswith(f"{ROUTE}.") and part.field.count(".") == 1
        lead = STEP_LEAD if is_step else None
        for field in part.fields[:lead]:
            box.addWidget(self._row(field))
        for inner in part.parts:
            box.addWidget(frame("rule"))
            box.addWidget(head(inner.title))
            self._fill(box, inner)
        for one in part.lists:
            box.addWidget(frame("rule"))
            self._fill_list(box, one)
        if lead is not None:
            box.addWidget(frame("rule"))
            for field in part.fields[lead:]:
                box.addWidget(self._row(field))

    def _fill_list(self, box: QVBoxLayout, one: SheetList) -> None:
        top = clear()
        row = across(top, spacing=6)
        sign = "◆ " if one.example else ""
        row.addWidget(head(f"{sign}{one.title}"), 1)
        if one.example:
            confirm = small_button("Right", "right as it stands in the example", 84)
            confirm.clicked.connect(partial(self._confirm_list, one.example, confirm))
            confirm.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            row.addWidget(confirm)
            self.confirms.append(confirm)
            self._stops.append(confirm)
        box.addWidget(top)
        for place, entry in enumerate(one.entries):
            box.addWidget(self._entry(one, place, entry))
        if len(one.adds) == 1:
            box.addWidget(
                self._wide_button(one.adds[0][0], partial(self._add, one, one.adds[0][1]))
            )
        elif one.adds:
            words = "Add an input…" if one.field.endswith("inputs") else "Add…"
            box.addWidget(self._wide_button(words, partial(self._choose_what, one)))

    def _entry(self, one: SheetList, place: int, entry: SheetPart) -> QWidget:
        card = frame("card")
        box = down(card, (8, 6, 6, 6), 4)
        line = across(spacing=4)
        compact = not entry.title and len(entry.fields) <= 3 and not entry.lists
        if compact:
            for field in entry.fields:
                line.addWidget(self._row(field, compact=True), 1)
        else:
            line.addWidget(label(entry.title or f"{place + 1}", "strong", wrap=True), 1)
        for button in self._movers(one, place):
            line.addWidget(button, 0, Qt.AlignmentFlag.AlignTop)
        box.addLayout(line)
        if not compact:
            if entry.problem:
                notice = Notice()
                notice.show_words(entry.problem, Tone.CAUTION)
                box.addWidget(notice)
            self._fill(box, entry)
        return card

    def _movers(self, one: SheetList, place: int) -> tuple[ActionButton, ...]:
        up, down_, drop = (
            small_button("↑", f"up, {place + 1}"),
            small_button("↓", f"down, {place + 1}"),
            small_button("✕", f"drop, {place + 1}"),
        )
        field = one.field
        up.clicked.connect(partial(self._edit, partial(_moved, field, place, -1)))
        down_.clicked.connect(partial(self._edit, partial(_moved, field, place, 1)))
        drop.clicked.connect(partial(self._edit, partial(_dropped, field, place)))
        return up, down_, drop

    def _row(self, field: SheetField, *, compact: bool = False) -> SheetRow:
        row = SheetRow(field, compact=compact)
        if any(map(_left_in, self.parts)) and not compact:
            row.keep_room()
        row.typed.connect(self._timer.start)
        row.settled.connect(self.flush)
        row.finished.connect(partial(self._go_on, row))
        row.confirmed.connect(partial(self._on_confirmed, row))
        row.taken.connect(partial(self._on_taken, row))
        row.entered.connect(partial(self._on_entered, row))
        self.rows.append(row)
        self._stops.append(row.editor)
        return row

    # --- the route -------------------------------------------------------------------------------

    def _build_route(self, part: SheetPart) -> None:
        steps = part.lists[0]
        self._column.addWidget(label("A step opens by its name.", "small", wrap=True))
        for place in range(len(steps.entries)):
            line = clear()
            row = across(line, spacing=4)
            button = FormButton()
            button.clicked.connect(partial(self._open, place))
            row.addWidget(button, 1)
            self.step_buttons.append(button)
            for mover in self._movers(steps, place):
                mover.clicked.connect(partial(self._mark, place))
                row.addWidget(mover)
            self._column.addWidget(line)
        self._column.addWidget(self._wide_button("Add a step…", partial(self._choose_what, steps)))

    def _show_steps(self, part: SheetPart) -> None:
        entries = part.lists[0].entries
        for place, (button, step) in enumerate(zip(self.step_buttons, entries, strict=False)):
            left = _left_in(step)
            words = f"{'▲ ' if step.problems() else ''}{place + 1}  {step.title}"
            button.show_action(ActionView("step", f"{words} ◆ {left}" if left else words, ""))

    def _back_row(self, step: SheetPart) -> QWidget:
        line = clear()
        row = across(line, spacing=8)
        back = FormButton()
        back.show_action(ActionView("back", "Back to the route", BACK))
        back.setFixedWidth(170)
        back.clicked.connect(self.go_back)
        row.addWidget(back)
        row.addWidget(head(step.title), 1)
        return line

    def _build_choice(self, one: SheetList) -> None:
        self._column.addWidget(head("What is added?"))
        grid = QGridLayout()
        grid.setSpacing(6)
        holder = clear()
        holder.setLayout(grid)
        for place, (name, entry) in enumerate(one.adds):
            button = self._wide_button(name, partial(self._add, one, entry))
            grid.addWidget(button, place // 2, place % 2)
        self._column.addWidget(holder)
        self._column.addWidget(self._wide_button("Cancel", self.go_back))

    def _wide_button(self, words: str, do: Callable[[], None]) -> FormButton:
        button = FormButton()
        button.show_action(ActionView("add", words, ""))
        button.clicked.connect(partial(_without_state, do))
        return button

    # --- what is done ----------------------------------------------------------------------------

    @Slot()
    def flush(self) -> None:
        """Put what was typed into the text."""
        self._timer.stop()
        for row in [row for row in self.rows if row.pending]:
            row.pending = False
            value = written(row.field, row.text())
            if value != row.field.value:
                self.edited.emit(partial(_put, row.field.field, value))

    def _edit(self, change: Change, _: bool = False) -> None:
        self.flush()
        self.edited.emit(change)

    def _add(self, one: SheetList, entry: SheetEntry) -> None:
        place = len(one.entries)
        if one.field == ROUTE:
            # The last one files: nothing comes behind it.
            last = max(0, place - 1)
            place = last if self._below is None else min(self._below + 1, last)
            self.step = self._below = place
        self.adding = None
        self._edit(partial(_added, one.field, place, entry))

    def _choose_what(self, one: SheetList) -> None:
        self.flush()
        self.adding = one
        self.show_parts(self.parts)

    def _confirm(self, name: str, _: bool = False) -> None:
        self._edit(partial(_put, (EXAMPLE_TABLE, name), None))

    def _confirm_list(self, name: str, button: ActionButton, _: bool = False) -> None:
        """Confirm a list, and go on to what is still the example's."""
        self._focus = ""
        section = self.section
        self._confirm(name)
        # The list is made anew without its mark; the keyboard then goes on from there.
        self._lead = self._go_to_marked(button) and self.section == section

    def _on_confirmed(self, row: SheetRow) -> None:
        if row.field.example:
            self._confirm(row.field.example)

    def _on_taken(self, row: SheetRow) -> None:
        row.pending = False
        self._edit(partial(_put, row.field.field, row.field.take))

    def _on_entered(self, row: SheetRow) -> None:
        self._focus = row.field.field
        # A row that was made just now has no place yet.
        self._seen.start()
        self.pointed.emit(row.field)

    @Slot()
    def _see(self) -> None:
        """Scroll to the field that the keyboard is in."""
        row = next((row for row in self.rows if row.field.field == self._focus), None)
        if row is not None:
            self.scroller.ensureWidgetVisible(row, 0, 40)

    def _go_on(self, row: SheetRow) -> None:
        if row.field.example and self._go_to_marked(row.editor):
            return
        place = self._stops.index(row.editor) if row.editor in self._stops else -1
        if 0 <= place < len(self._stops) - 1:
            _go_into(self._stops[place + 1])
        elif self.section < len(self.parts) - 1 and self.step is None:
            self.turn_to(self.section + 1)

    def _marked(self) -> list[QWidget]:
        """Return the stops of this view that are still the example's, or at fault."""
        editors = [row.editor for row in self.rows if row.field.example or row.field.problem]
        return [stop for stop in self._stops if stop in editors or stop in self.confirms]

    def _go_to_marked(self, after: QWidget) -> bool:
        """Go to what is still the example's next: here, in the next step, in the next part."""
        place = self._stops.index(after) if after in self._stops else -1
        here = next((w for w in self._marked() if self._stops.index(w) > place), None)
        if here is not None:
            _go_into(here)
            return True
        steps = self.parts[-1].lists[0].entries
        if self.step is None:
            for section in range(self.section + 1, len(self.parts)):
                if _left_in(self.parts[section]):
                    self.turn_to(section)
                    break
            else:
                return False
            if self.parts[self.section].field != ROUTE:
                return True
        begin = -1 if self.step is None else self.step
        step = next((n for n, s in enumerate(steps) if n > begin and _left_in(s)), None)
        if step is None:
            self.go_back()
        else:
            self._open(step)
        return True

    def _open(self, place: int, _: bool = False) -> None:
        self.flush()
        self.step, self._below, self._focus = place, place, ""
        self.show_parts(self.parts)
        self.focus_first()

    def _mark(self, place: int, _: bool = False) -> None:
        self._below = place

    @Slot()
    def go_back(self) -> None:
        """Leave a choice, or a step for the route."""
        self.flush()
        if self.adding is not None:
            self.adding = None
        else:
            self.step = None
        self._shape = None
        self.show_parts(self.parts)
        self.setFocus(Qt.FocusReason.OtherFocusReason)

    def _on_tab(self, place: int, _: bool = False) -> None:
        self.turn_to(place)

    def turn_to(self, place: int) -> None:
        """Open another part and go into its first field."""
        self.flush()
        self.section, self.step, self.adding, self._focus = place, None, None, ""
        self._shape = None
        self.show_parts(self.parts)
        self.focus_first()

    def focus_first(self) -> None:
        """Put the keyboard into the first field at fault, of the example, or at all."""
        wrong = next((row for row in self.rows if row.field.problem), None)
        stops = [*self._marked(), *self._stops]
        first = wrong.editor if wrong is not None else next(iter(stops), None)
        if first is not None:
            _go_into(first)
        elif self.step_buttons:
            self.step_buttons[0].setFocus(Qt.FocusReason.OtherFocusReason)

    def go_to_fault(self) -> bool:
        """Open the first part in which something is wrong; says whether there is one."""
        for place, part in enumerate(self.parts):
            if part.problems():
                self.section, self.step, self.adding = place, None, None
                if part.field == ROUTE:
                    steps = part.lists[0].entries
                    self.step = next((n for n, s in enumerate(steps) if s.problems()), None)
                self._shape = None
                self.show_parts(self.parts)
                self.focus_first()
                return True
        return False

    def press_key(self, key: str) -> bool:
        """Turn to the next or the last part, or go back to the route."""
        if same_key(key, BACK) and (self.step is not None or self.adding is not None):
            self.go_back()
            return True
        for wanted, by in ((NEXT, 1), (BEFORE, -1)):
            if same_key(key, wanted) and self.parts:
                self.turn_to((self.section + by) % len(self.parts))
                return True
        return False


def _go_into(stop: QWidget) -> None:
    """Put the keyboard there as Tab does: what stands there is marked, typing takes its place."""
    stop.setFocus(Qt.FocusReason.TabFocusReason)
    if isinstance(stop, TextField):
        stop.selectAll()


def _without_state(do: Callable[[], None], _: bool = False) -> None:
    do()


def _put(field: str | tuple[str | int, ...], value: str | int | bool | None, text: str) -> str:
    return with_value(text, field, value)


def _moved(field: str, place: int, by: int, text: str) -> str:
    return with_entry_moved(text, field, place, by)


def _dropped(field: str, place: int, text: str) -> str:
    return without_entry(text, field, place)


def _added(field: str, place: int, entry: SheetEntry, text: str) -> str:
    return with_entry(text, field, place, entry)


def _left_in(part: SheetPart) -> int:
    """Return how many figures are still the example's."""
    return sum(bool(field.example) for field in part.all_fields()) + sum(
        bool(one.example) for one in part.lists
    )


def _own_problems(part: SheetPart) -> list[str]:
    """Return what is wrong with a part that no field of it shows."""
    said = [part.problem, *(one.problem for one in part.lists)]
    inner = [words for one in part.parts for words in _own_problems(one)]
    return [words for words in (*said, *inner) if words]


def _shape_of(part: SheetPart) -> object:
    """Return what makes another form: its fields and lists, not what they say."""
    return (
        part.field,
        tuple((f.field, f.kind, f.choices) for f in part.fields),
        tuple(_shape_of(inner) for inner in part.parts),
        tuple(
            (one.field, one.title, one.example, len(one.adds), tuple(map(_shape_of, one.entries)))
            for one in part.lists
        ),
        part.problem,
    )
