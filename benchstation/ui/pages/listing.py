"""A page that lists things at the left, and opens one at the right: its terms, or a form."""

from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from functools import partial

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QStackedWidget, QWidget

from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import TaskView, Tone
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.ui.pages.list_page import ListPage
from benchstation.ui.shell.bridge import Bridge, Message
from benchstation.ui.shell.labels import frame, label
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.widgets.drawings.picture import Callout
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.forms.live_judge import LiveJudge
from benchstation.ui.widgets.readout.primary_readout import OTHER, MarkedLines
from benchstation.ui.widgets.readout.terms import Terms

LEAVE = "leave"


class ListingPage(ListPage):
    """Rows, and what the one that is chosen is and allows. A subclass says where they come from."""

    judged_as: Mapping[str, str] = {}
    """By whose rules a form is judged that does something else first, such as working it out."""

    def __init__(self, bridge: Bridge, parent: QWidget | None = None) -> None:
        super().__init__(bridge, parent)
        self.opened: ListDetail | None = None
        self.form_open: TaskView | None = None
        self._asked = 0
        self._busy = False
        # Who was there before this page was made is nobody new.
        self._who = bridge.who
        self.title = label("", "title", wrap=True)
        self.terms = Terms()
        self.words = label("", "large", wrap=True)
        self.lines = MarkedLines()
        self.form = Form()
        self.judge = LiveJudge(self.form, bridge, self._judged)
        self._lay_out()
        self.form.submitted.connect(self.action_bar.press_primary)
        bridge.seen.connect(self._on_seen)

    def _lay_out(self) -> None:
        _, _, right = self.lay_out_columns(self.over_list(), 5, 7)
        panel = frame("panel")
        box = self.column = down(panel, (20, 14, 12, 12), 10)
        box.addWidget(self.title)
        box.addWidget(self.words)
        box.addWidget(self.lines)
        self.lines.hide()
        self.inside = QStackedWidget()
        self.inside.setObjectName("clear")
        for part, name in ((self.terms, "figures"), (self.form, "form")):
            self.inside.addWidget(_scrolled(part, f"{self.name}: {name}"))
        box.addWidget(self.inside, 1)
        right.addWidget(panel, 1)
        right.addWidget(self.action_bar)

    def callouts(self) -> tuple[Callout, ...]:
        """Explain list, figures and actions."""
        return (
            (self.list, "what there is; what is chosen opens at the right"),
            (self.inside, "what is on record about it, or a form to fill in"),
            (self.action_bar, "what may be done with it, each on its key"),
        )

    def over_list(self) -> tuple[QWidget, ...]:
        """Return what stands above the list."""
        return ()

    # --- where rows come from ------------------------------------------------------------------

    def fetch_rows(self) -> Future[Sequence[ListRow]]:
        """Ask the station for the rows."""
        raise NotImplementedError

    def fetch(self, key: str) -> Future[ListDetail]:
        """Ask the station for one of them."""
        raise NotImplementedError

    def do(self, action: str, fields: dict[str, str]) -> None:
        """Do an action of the row that is open."""
        self._begin()
        self._bridge.act(action, fields, self._on_done, self._on_failed)

    # --- following -----------------------------------------------------------------------------

    @Slot(object)
    def _on_seen(self, view: BenchView) -> None:
        """Look anew when somebody else is there."""
        came, self._who = view.who != self._who, view.who
        if came and self.isVisible():
            self.reword()

    def reword(self) -> None:
        """Leave a form and look anew."""
        self.close_form()
        self.look()

    def look(self) -> None:
        """Fetch the rows; what is open is read anew."""
        self._bridge.follow(self.fetch_rows, self._on_found, self.told.emit)

    def _on_found(self, rows: Sequence[ListRow]) -> None:
        key = self._to_choose(rows)
        self.list.selectionModel().blockSignals(True)
        self.show_rows(rows)
        self.list.choose(lambda row: row.key == key)
        self.list.selectionModel().blockSignals(False)
        self._ask()

    def _to_choose(self, rows: Sequence[ListRow]) -> str:
        """Return the row that has just come, else the one that is chosen."""
        there: ListRow | None = self.take_place(rows)
        if there is not None:
            return there.key
        before: list[ListRow] = self.list.rows.rows
        known = {row.key for row in before}
        new = [row.key for row in rows if row.key not in known]
        if known and len(new) == 1:
            return new[0]
        return self.list.current.key if self.list.current is not None else ""

    def open_current(self) -> None:
        """Leave a form, and open the row that was chosen."""
        self.close_form()
        self._ask()

    def _ask(self) -> None:
        if self.list.current is None:
            return
        self._asked += 1
        key = self.list.current.key
        self._bridge.follow(
            partial(self.fetch, key), partial(self._on_opened, self._asked), self.told.emit
        )

    def _on_opened(self, asked: int, detail: ListDetail) -> None:
        if asked == self._asked:
            self.show_detail(detail)

    def show_detail(self, detail: ListDetail) -> None:
        """Show what is open; a form that is being filled in stays."""
        self.opened = detail
        if self.form_open is not None:
            return
        self.title.setText(detail.row.title)
        self.words.setText("".join(detail.row.below[:1]))
        self.terms.show_groups(detail.groups)
        self.lines.show_lines(tuple((text, tone, OTHER) for text, tone in detail.lines))
        self.lines.setVisible(bool(detail.lines))
        self.inside.setCurrentIndex(0)
        self.action_bar.show_actions(detail.actions)

    # --- doing ---------------------------------------------------------------------------------

    @Slot(str, object)
    def _on_chosen(self, action: str, given: dict[str, str]) -> None:
        if self.opened is None or self._busy:
            return
        fields = dict(self.opened.fields)
        if self.form_open is not None:
            if action == LEAVE:
                self.close_form()
                self.show_detail(self.opened)
                return
            fields |= self.form.values()
        elif action in self.opened.forms:
            self._open_form(self.opened.forms[action])
            return
        self.do(action, fields | given)

    def _open_form(self, task: TaskView) -> None:
        self.form_open = task
        self.title.setText(task.title)
        self.words.setText(task.instruction)
        self.lines.hide()
        self.form.show_fields(task.step_id, task.fields)
        self.inside.setCurrentIndex(1)
        self.action_bar.show_actions(task.actions)
        self.form.focus_first()

    def close_form(self) -> None:
        """Leave the form; what was typed goes."""
        if self.form_open is None:
            return
        self.form_open = None
        self.form.show_fields("", ())
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)
        if self.opened is not None:
            self.show_detail(self.opened)

    def _judged(self) -> tuple[str, Mapping[str, str]]:
        """Return what the open form does, and what goes with its fields."""
        actions = self.form_open.actions if self.form_open is not None else ()
        does = next((one.does or one.id for one in actions if one.primary), "")
        return self.judged_as.get(does, does), self.opened.fields if self.opened else {}

    def _begin(self) -> None:
        self._busy = True
        self.told.emit(Message("Working…", Tone.QUIET))

    def _on_done(self, sentence: str) -> None:
        self._busy = False
        self.told.emit(Message(sentence, Tone.GOOD))
        self.close_form()
        self._bridge.refresh()
        self.look()

    def _on_failed(self, message: Message) -> None:
        self._busy = False
        if self.form_open is not None:
            self.form.clear_secrets()
            self.form.focus_first()
        self.told.emit(message)


def _scrolled(part: QWidget, name: str) -> Scroller:
    inner = clear()
    column = down(inner, (0, 0, 10, 0))
    column.addWidget(part)
    column.addStretch(1)
    return Scroller(inner, name)
