"""Quality: control charts of what was filed, what they say, and what another limit would do."""

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import QModelIndex, Qt, Signal, Slot
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchstation.screens.model.elements import ActionView, TermGroup, Tone
from benchstation.screens.model.lists import ListRow
from benchstation.screens.model.quality import (
    ChartPoint,
    OtherLimitView,
    QualityQuestion,
    QualityView,
    question_at,
)
from benchstation.screens.model.records import words_for_unit
from benchstation.ui.pages.page import Page
from benchstation.ui.shell.bridge import Bridge, Message
from benchstation.ui.shell.labels import frame, label
from benchstation.ui.shell.layouts import across, clear, down
from benchstation.ui.shell.printing import Paper, Printing, Write, documents
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.drawings.picture import Callout
from benchstation.ui.widgets.forms.fields import ChoiceField, TextField
from benchstation.ui.widgets.lists.row_list import RowList
from benchstation.ui.widgets.readout.actions import Actions
from benchstation.ui.widgets.readout.terms import Terms

QUANTITIES = (
    ("oil", "Oil"),
    ("charge", "Charge"),
    ("leak", "Leak"),
    ("check", "Checks"),
)
BYS = (
    ("", "All units"),
    ("technician", "Technician"),
    ("instrument", "Instrument"),
    ("lot", "Lot"),
    ("bench", "Bench"),
)
COUNTS = tuple((str(n), f"Last {n}") for n in (50, 100, 200, 500))
CHECK = "check"
OPEN, WRITE, LIMIT, PRINT = "open", "write", "limit", Paper.CHART.value
NO_RULE = "No rule fired among these points."
NO_CHANGE = "Every unit would be judged as it was."
LEGEND = (
    "● right the first time   ▲ not   ■ held, rejected, failed   hollow and larger: a rule "
    "ends here"
)


class QualityPage(Page):
    """Choices above, both charts at the left, what they say at the right."""

    leads = Signal(str, str)
    """Go to a page, and to what stands there."""

    def __init__(self, bridge: Bridge, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        # The plotting library takes half a second: only who opens this page waits for it.
        from benchstation.ui.widgets.plots.control_chart import ControlChart

        self._bridge = bridge
        self.view: QualityView | None = None
        self.other: OtherLimitView | None = None
        self._question = QualityQuestion()
        self._asked = 0
        self._writing = False
        self._tried = ""
        """The limit that is shown as another one."""
        self.printing = Printing(bridge, self.told.emit, self)
        self.quantity, self.by, self.count = map(ChoiceField, (QUANTITIES, BYS, COUNTS))
        self.family, self.named = ChoiceField((("", "All families"),)), ChoiceField(())
        self.heading = label("", "strong", wrap=True)
        self.values, self.ranges = ControlChart(), ControlChart()
        self.point = label("", wrap=True)
        self.legend = label(LEGEND, "small", wrap=True)
        self.terms = Terms()
        self.list = RowList("rules that fired")
        self.none = label(NO_RULE, "quiet", wrap=True)
        self.limit, self.folder = TextField(), TextField()
        self.folder.setText(str(documents()))
        self.actions_bar = Actions(columns=4)
        self._lay_out()
        self._connect()
        self._show_actions()

    def _lay_out(self) -> None:
        box = down(self, (12, 10, 12, 0), 8)
        row = across(spacing=8)
        for field, words in (
            (self.quantity, "what is charted"),
            (self.family, "of which family"),
            (self.by, "of whose units"),
            (self.named, "which one"),
            (self.count, "how many"),
        ):
            field.setAccessibleName(words)
            row.addWidget(field, 2 if field in (self.family, self.named) else 1)
        box.addLayout(row)
        columns = across(spacing=10)
        left, right = down(spacing=6), down(spacing=8)
        self.charts = frame("panel")
        inside = down(self.charts, (14, 10, 10, 8), 4)
        inside.addWidget(self.heading)
        inside.addWidget(self.values, 3)
        inside.addWidget(self.ranges, 2)
        inside.addWidget(self.point)
        inside.addWidget(self.legend)
        self.empty = frame("panel")
        around = QVBoxLayout(self.empty)
        self.nothing = label("", "quiet", wrap=True)
        self.nothing.setContentsMargins(16, 16, 16, 16)
        around.addWidget(self.nothing)
        around.addStretch(1)
        self.empty.hide()
        left.addWidget(self.charts, 1)
        left.addWidget(self.empty, 1)
        panel = frame("panel")
        terms = down(panel, (14, 10, 8, 8), 4)
        inner = clear()
        column = down(inner, (0, 0, 10, 0))
        column.addWidget(self.terms)
        column.addStretch(1)
        terms.addWidget(Scroller(inner, "what the chart says"))
        right.addWidget(panel, 3)
        self.found = label("", "strong", wrap=True)
        right.addWidget(self.found)
        right.addWidget(self.none)
        right.addWidget(self.list, 2)
        self.limit.setAccessibleName("another limit")
        self.folder.setAccessibleName("folder to write into")
        fields = across(spacing=10)
        self.trying = _named("Another limit", self.limit)
        fields.addWidget(self.trying, 2)
        fields.addWidget(_named("Write into folder", self.folder), 3)
        right.addLayout(fields)
        columns.addLayout(left, 7)
        columns.addLayout(right, 5)
        box.addLayout(columns, 1)
        box.addWidget(self.actions_bar)

    def _connect(self) -> None:
        self._show_question(self._question)
        for field in (self.quantity, self.family, self.by, self.named, self.count):
            field.activated.connect(self._on_choice)
            field.finished.connect(self._on_choice)
        for chart in (self.values, self.ranges):
            chart.chosen.connect(self.choose)
            chart.wanted.connect(self._on_wanted)
        self.list.selectionModel().currentChanged.connect(self._on_row)
        self.limit.finished.connect(self.try_limit)
        self.actions_bar.chosen.connect(self._on_action)
        self.actions_bar.refused.connect(self.refuse)

    def callouts(self) -> tuple[Callout, ...]:
        """Explain choices, charts and what stands beside them."""
        return (
            (self.quantity, "what is charted, and of whose units"),
            (self.values, "each value in its order, with the limits of the process"),
            (self.ranges, "how far each value is from the one before"),
            (self.terms, "capability, yield, deviations, and how it is counted"),
            (self.list, "the rules that fired, or what another limit would change"),
            (self.trying, "try another limit; nothing on record changes"),
            (self.actions_bar, "open a record, write the chart out"),
        )

    def above(self) -> QWidget:
        """Return the actions: what is refused lies over the charts, above them."""
        return self.actions_bar

    def press_key(self, key: str) -> bool:
        """Do the action on this key."""
        return self.actions_bar.press_key(key)

    def showEvent(self, event: QShowEvent) -> None:
        """Look for what has been filed since."""
        super().showEvent(event)
        if self.focusWidget() is None:
            self.values.setFocus(Qt.FocusReason.OtherFocusReason)
        self.look()

    def reword(self) -> None:
        """Show the chart in other units."""
        self.look()

    # --- asking ----------------------------------------------------------------------------------

    def look(self) -> None:
        """Ask for the chart that is chosen; only the last question's answer is shown."""
        self._asked += 1
        self._bridge.follow(
            partial(self._bridge.port.quality, self._question),
            partial(self._on_view, self._asked),
            self.told.emit,
        )

    def go_to(self, place: str) -> None:
        """Show the chart that another page leads to."""
        self.ask(question_at(place))

    def ask(self, question: QualityQuestion) -> None:
        """Ask for another chart."""
        self._question = question
        self.other = None
        self.look()

    @Slot()
    def _on_choice(self) -> None:
        before = self._question
        quantity, by = self.quantity.currentData() or "oil", self.by.currentData() or ""
        name = self.named.currentData() or ""
        if (quantity == CHECK) != (before.quantity == CHECK) or by != before.by:
            name = ""
        question = QualityQuestion(
            quantity,
            self.family.currentData() or "",
            by,
            name,
            int(self.count.currentData() or before.count),
        )
        if question != before:
            self.ask(question)

    def _on_view(self, asked: int, view: QualityView) -> None:
        if asked != self._asked:
            return
        self.forgive()
        same = self.view is not None and view.question == self.view.question
        place = self.values.place if same else -1
        self.view, self._question = view, view.question
        self.family.offer(view.families)
        self.named.offer(view.names)
        self._show_question(view.question)
        self.heading.setText(view.heading)
        self.nothing.setText(view.nothing)
        drawn = view.individuals is not None
        self.charts.setVisible(drawn)
        self.empty.setVisible(not drawn)
        if view.individuals is not None and view.ranges is not None:
            self.values.show_chart(view.individuals, view.points)
            self.ranges.show_chart(view.ranges, view.points)
            room = max(self.values.words_px(), self.ranges.words_px())
            for chart in (self.values, self.ranges):
                chart.keep_room(room)
            self.choose(place if 0 <= place < len(view.points) else len(view.points) - 1)
        self.trying.setVisible(bool(view.limit_now))
        if view.limit_now != self.limit.placeholderText():
            # A number that was typed for other units, or of another quantity, means nothing here.
            self.limit.clear()
        self.limit.setPlaceholderText(view.limit_now)
        if self.other is None or not same:
            self.other = None
            self._show_rules()
        self._show_actions()

    def _show_question(self, question: QualityQuestion) -> None:
        is_check = question.quantity == CHECK
        for field, value in (
            (self.quantity, question.quantity),
            (self.family, question.family),
            (self.by, question.by),
            (self.named, question.name),
            (self.count, str(question.count)),
        ):
            field.setCurrentIndex(field.findData(value))
        self.family.setVisible(not is_check)
        self.by.setVisible(not is_check)
        self.named.setVisible(is_check or bool(question.by))

    # --- showing ---------------------------------------------------------------------------------

    def _show_rules(self) -> None:
        view = self.view
        if view is None:
            return
        self._show_side(view.groups, view.rows, _counted(view.rows), NO_RULE)

    def _show_side(
        self, groups: Sequence[TermGroup], rows: Sequence[ListRow], heading: str, none: str
    ) -> None:
        self.terms.show_groups(tuple(groups))
        self.found.setText(heading)
        self.found.setVisible(bool(heading))
        model = self.list.selectionModel()
        model.blockSignals(True)
        self.list.rows.replace(list(rows))
        model.blockSignals(False)
        self.list.setVisible(bool(rows))
        self.none.setText(none)
        self.none.setVisible(not rows and bool(self.view and self.view.individuals))

    @Slot(int)
    def choose(self, place: int) -> None:
        """Mark a point in both charts, and say which it is."""
        if self._point() is None:
            return
        self.values.choose(place)
        self.ranges.choose(place)
        point = self._point()
        self.point.setText(point.words if point is not None else "")
        self._show_actions()

    @Slot(QModelIndex, QModelIndex)
    def _on_row(self, current: QModelIndex, _: QModelIndex) -> None:
        """Mark the point that a row of the list is about."""
        row = self.list.current
        if not current.isValid() or row is None or self.view is None:
            return
        for place, point in enumerate(self.view.points):
            if point.unit_id and point.unit_id == row.key:
                self.choose(place)
                return

    # --- doing -----------------------------------------------------------------------------------

    def _point(self) -> ChartPoint | None:
        """Return the point that is chosen; ``None`` where no chart is drawn."""
        view = self.view
        if view is None or view.individuals is None or not view.points:
            return None
        return view.points[self.values.place]

    def _show_actions(self) -> None:
        view = self.view
        point = self._point()
        can_open = point is not None and bool(point.unit_id)
        can_write = view is not None and view.individuals is not None and not self._writing
        can_try = view is not None and bool(view.limit_now)
        why = "choose the family first"
        if self._question.quantity == CHECK:
            why = "a check's limit is the bench's own"
        trying = "Try the limit" if self.other is None else "Back to the rules"
        self.actions_bar.show_actions(
            (
                ActionView(LIMIT, trying, "Ctrl+T", can_try, "" if can_try else why),
                ActionView(
                    PRINT,
                    "Print chart",
                    "Ctrl+P",
                    can_write,
                    "" if can_write else "there is no chart to print",
                ),
                ActionView(
                    WRITE,
                    "Write PDF and CSV",
                    "Ctrl+E",
                    can_write,
                    "" if can_write else "there is no chart to write",
                ),
                ActionView(
                    OPEN,
                    "Open the record",
                    "Ctrl+O",
                    can_open,
                    "" if can_open else "a check has no unit" if point else "there is no point",
                    primary=True,
                ),
            )
        )

    @Slot(str, object)
    def _on_action(self, action: str, _: dict[str, str]) -> None:
        if action == OPEN:
            self._on_wanted(self.values.place)
        elif action == WRITE:
            self._write()
        elif action == PRINT:
            self.printing.put(Paper.CHART, self._paper(Path(self.folder.text().strip())))
        elif self.other is not None:
            self.other = None
            self._show_rules()
            self._show_actions()
        else:
            self.try_limit()

    @Slot(int)
    def _on_wanted(self, place: int) -> None:
        self.choose(place)
        point = self._point()
        if point is not None and point.unit_id:
            self.leads.emit("records", words_for_unit(point.serial, point.unit_id))

    @Slot()
    def try_limit(self) -> None:
        """Ask what the typed limit would do; an empty field asks for one."""
        typed = self.limit.text().strip()
        if not typed:
            self.told.emit(Message("Type another limit first.", Tone.CAUTION))
            self.limit.setFocus(Qt.FocusReason.ShortcutFocusReason)
            return
        asked = self._asked
        self._bridge.follow(
            partial(self._bridge.port.other_limit, self._question, typed),
            partial(self._on_other, asked, typed),
            self.told.emit,
        )

    def _on_other(self, asked: int, typed: str, view: OtherLimitView) -> None:
        if asked != self._asked:
            return
        self._tried = typed
        self.other = view
        self.forgive()
        self._show_side(view.groups, view.rows, view.heading, NO_CHANGE)
        self._show_actions()

    def _write(self) -> None:
        folder = self.folder.text().strip()
        if not folder:
            self.told.emit(Message("Say first into which folder to write.", Tone.CAUTION))
            self.folder.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        self._writing = True
        self._show_actions()
        self.told.emit(Message("Writing the chart…", Tone.QUIET))
        self._bridge.follow(self._paper(Path(folder)), self._on_written, self._not_written)

    def _paper(self, folder: Path) -> Write:
        """Return what writes the chart as it is shown, with another limit where one is."""
        folder = folder if self.folder.text().strip() else documents()
        typed = self._tried if self.other is not None else ""
        return partial(self._bridge.port.write_quality, self._question, typed, folder)

    def _on_written(self, paths: Sequence[Path]) -> None:
        self._writing = False
        self._show_actions()
        names = " and ".join(path.name for path in paths)
        self.told.emit(Message(f"Written: {names} in {paths[0].parent}", Tone.GOOD))

    def _not_written(self, message: Message) -> None:
        self._writing = False
        self._show_actions()
        self.told.emit(message)


def _named(words: str, field: QWidget) -> QWidget:
    """Return a field below its name."""
    made = clear()
    box = down(made, spacing=2)
    box.addWidget(label(words, "quiet"))
    box.addWidget(field)
    return made


def _counted(rows: Sequence[ListRow]) -> str:
    if not rows:
        return ""
    return f"{len(rows)} {'rule' if len(rows) == 1 else 'rules'} fired, the newest first"
