"""Specifications: revisions and drafts, what each makes of a unit, and the writing of a new one."""

from collections.abc import Callable, Sequence
from functools import partial

from PySide6.QtCore import QModelIndex, Qt, Slot
from PySide6.QtGui import QResizeEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from benchstation.driver_api.errors import StationError
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.specification_editing import raised
from benchstation.screens.model.specifications import (
    DRAFT,
    SheetField,
    SpecificationDetail,
    SpecificationRow,
)
from benchstation.ui.pages.page import Page
from benchstation.ui.shell.bridge import Bridge, Message, message_of
from benchstation.ui.shell.labels import frame, label
from benchstation.ui.shell.latest import Latest, Question
from benchstation.ui.shell.layouts import down
from benchstation.ui.widgets.drawings.dimension import Dimension
from benchstation.ui.widgets.drawings.picture import Callout
from benchstation.ui.widgets.forms.fields import TextField
from benchstation.ui.widgets.forms.file_dialogs import ask_to_open, ask_to_save
from benchstation.ui.widgets.forms.specification_actions import (
    ANEW,
    APPROVE,
    EXAMPLE,
    KEEP,
    LEAVE,
    NEW,
    READ,
    TEXT,
    WRITE,
    WRONG_FIRST,
    reading_actions,
    writing_actions,
)
from benchstation.ui.widgets.forms.specification_editor import SpecificationEditor
from benchstation.ui.widgets.forms.specification_form import SpecificationForm
from benchstation.ui.widgets.forms.specification_text import (
    example,
    read_source,
    replace_source,
    write_source,
)
from benchstation.ui.widgets.lists.row_list import RowList
from benchstation.ui.widgets.lists.specification_figures import Figures
from benchstation.ui.widgets.lists.specification_terms import SpecificationTerms
from benchstation.ui.widgets.readout.actions import Actions

NONE_YET = (
    "A specification says how one family of dampers is filled, charged and judged. "
    "Start from the example (Ctrl+N) and replace its figures by your unit's own, or read a TOML "
    "file (Ctrl+O): it is checked while you write on.\n\n"
    "A bench lead keeps it as a draft, and a second lead or QA approves it."
)
NOTHING_OPEN = (
    "Choose a revision at the left.\n\nIt opens here: the unit drawn to scale, to be moved through "
    "its travel cold and hot, and gas pressure and gas force over that travel."
)
READING, WRITING = (0.225, 0.245), (0.39, 0.215)
"""The shares of left and right; the middle has the rest."""
NO_FORM = "The text cannot be read as it stands: put it right here first."
COMES_BACK = "The text that stood here comes back with Ctrl+Z."


class SpecificationsPage(Page):
    """The list or the text at the left, drawing and curves in the middle, figures at the right."""

    def __init__(self, bridge: Bridge, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bridge = bridge
        self._latest = Latest(bridge, self._on_answer, self.told.emit)
        self.opened: SpecificationDetail | None = None
        self.writing = False
        self._checked: SpecificationDetail | None = None
        self._who = ""
        self._to_keep: str | None = None
        self._to_choose: SpecificationRow | None = None
        self._busy: set[str] = set()
        self.list = RowList("revisions and drafts", stacked=True)
        self.nothing = label("No specification is on record yet.", "quiet", wrap=True)
        self.nothing.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.nothing.setContentsMargins(12, 12, 12, 12)
        self.editor = SpecificationEditor()
        self.form = SpecificationForm()
        self.as_text = False
        """The text is written itself, not the form over it."""
        self.figures = Figures()
        self.terms = SpecificationTerms()
        self.place = TextField()
        self.place.setAccessibleName("folder to write into, or file to read")
        self.place.setPlaceholderText("or type a path here")
        self.action_bar = Actions()
        self._lay_out()
        self.list.selectionModel().currentChanged.connect(self._on_current)
        self.figures.moved.connect(self._ask)
        self.editor.paused.connect(self._ask)
        self.form.edited.connect(self._on_form)
        self.form.pointed.connect(self._on_pointed)
        self.action_bar.chosen.connect(self._on_chosen)
        self.action_bar.refused.connect(self._on_refused)
        self._do: dict[str, Callable[[], None]] = {
            READ: self._read,
            WRITE: self._write,
            NEW: self._new,
            ANEW: self._anew,
            EXAMPLE: self._example,
            LEAVE: self._leave,
            KEEP: self._keep,
            TEXT: self._turn_over,
        }
        self.figures.show_nothing(NOTHING_OPEN)
        self._show_actions()

    def _lay_out(self) -> None:
        box = down(self, (12, 10, 12, 0), 8)
        self.none = frame("panel")
        QVBoxLayout(self.none).addWidget(self.nothing)
        self.left = QStackedWidget()
        for part in (self.none, self.list, self.editor, self.form):
            self.left.addWidget(part)
        self.left.setCurrentWidget(self.list)
        row, bottom = QHBoxLayout(), QHBoxLayout()
        row.setSpacing(10)
        row.addWidget(self.left)
        row.addWidget(self.figures, 1)
        row.addWidget(self.terms)
        box.addLayout(row, 1)
        bottom.setSpacing(10)
        bottom.addWidget(self.place, 2)
        bottom.addWidget(self.action_bar, 7)
        box.addLayout(bottom)

    def showEvent(self, event: QShowEvent) -> None:
        """Look for what has been drafted and approved since."""
        super().showEvent(event)
        if self.focusWidget() is None:
            # Else the first thing that Tab reaches would take the keys of the page.
            self.list.setFocus(Qt.FocusReason.OtherFocusReason)
        self.look()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Return the sides their share: a text needs more than a list."""
        self._fit()

    def _fit(self) -> None:
        width = self.width()
        left, right = WRITING if self.writing else READING
        self.left.setFixedWidth(round(left * width))
        self.terms.setFixedWidth(round(right * width))

    def reword(self) -> None:
        """Ask for the figures anew."""
        self._ask()

    def show_person(self, who: str) -> None:
        """Offer what this person may do: a draft is not approved by who wrote it."""
        self._who = who
        self._show_actions()

    def callouts(self) -> tuple[Callout, ...]:
        """Explain the three columns and the line below."""
        return (
            (self.left, "revisions and drafts, or the text that is being written"),
            (self.figures, "the unit to scale; move its rod, cold and hot, and read the curves"),
            (self.terms, "what changed, and every limit with what is left of it"),
            (self.place, "folder to write into, or file to read"),
            (self.action_bar, "read, write, draft, approve"),
        )

    def press_key(self, key: str) -> bool:
        """Do the action on this key, or turn a knob of the drawing."""
        if self.left.currentWidget() is self.form and self.form.press_key(key):
            return True
        return self.action_bar.press_key(key) or self.figures.press_key(key)

    def unkept(self) -> str:
        """Return the text that is not kept as a draft yet."""
        return self.editor.kept_words

    # --- what is open --------------------------------------------------------------------------

    @Slot()
    def look(self) -> None:
        """Fetch revisions and drafts; what is open stays open and is drawn anew."""
        self._bridge.follow(self._bridge.port.find_specifications, self._on_found, self.told.emit)

    def _on_found(self, rows: Sequence[SpecificationRow]) -> None:
        wanted = self._to_choose or (self.opened.row if self.opened is not None else None)
        self.list.rows.replace(list(rows))
        if self.writing:
            self._ask()
        elif rows:
            self._to_choose = None
            self.left.setCurrentWidget(self.list)
            self.list.choose(
                lambda row: wanted is not None and row.key == wanted.key,
                lambda row: wanted is not None and row.is_same(wanted),
            )
        else:
            self._show_nothing()

    def _show_nothing(self) -> None:
        self.opened = None
        self._latest.forget()
        self.left.setCurrentWidget(self.none)
        self.figures.show_nothing(NONE_YET)
        self.terms.show_nothing()
        self._show_actions()

    @Slot(QModelIndex, QModelIndex)
    def _on_current(self, current: QModelIndex, _: QModelIndex) -> None:
        if current.isValid() and not self.writing:
            key = self.list.rows.rows[current.row()].key
            self._latest.ask(Question(key, "", self.figures.share, self.figures.at))

    @Slot()
    def _ask(self) -> None:
        """Ask about what is written or open, at the travel and temperature that are set."""
        if self.writing:
            question = Question("", self.editor.text, self.figures.share, self.figures.at)
        elif self.opened is not None:
            question = Question(self.opened.row.key, "", self.figures.share, self.figures.at)
        else:
            return
        self._latest.ask(question)

    def _on_answer(self, asked: Question, detail: SpecificationDetail) -> None:
        if asked.key:
            if self.opened is None or self.opened.row.key != detail.row.key:
                self.figures.show_nothing(NOTHING_OPEN)
                self.terms.show_nothing()
            self.opened = detail
        else:
            self._checked = detail
            self.editor.show_problems(detail.problems)
            self._show_form(detail)
            if self._to_keep == detail.source == self.editor.text:
                self._keep()
        self.figures.show_detail(detail, self._bridge.port.display, writing=not asked.key)
        if detail.groups:
            row = detail.row
            before = (
                "the revision in force" if row.state == DRAFT else f"revision {row.revision - 1}"
            )
            self.terms.show_detail(detail, before)
        else:
            self.terms.show_old()
        self._show_actions()

    # --- the form over the text ------------------------------------------------------------------

    def _show_form(self, detail: SpecificationDetail) -> None:
        """Show the form where the text can be read and nobody wants the text itself."""
        self.form.show_parts(detail.sheet)
        if not detail.sheet or self.as_text:
            if self.left.currentWidget() is self.form:
                self.left.setCurrentWidget(self.editor)
        elif self.left.currentWidget() is self.editor:
            self.left.setCurrentWidget(self.form)
            self.form.focus_first()

    def _turn_over(self) -> None:
        """Turn between the form and the text: they say the same."""
        self.form.flush()
        self.as_text = self.left.currentWidget() is self.form
        if self.as_text:
            self.left.setCurrentWidget(self.editor)
            self.editor.area.setFocus(Qt.FocusReason.OtherFocusReason)
        elif self._checked is not None and not self._checked.sheet:
            self.told.emit(Message(NO_FORM, Tone.CAUTION))
        self._ask()
        self._show_actions()

    @Slot(object)
    def _on_form(self, change: Callable[[str], str]) -> None:
        try:
            self.editor.replace(change(self.editor.text))
        except StationError as error:
            self.told.emit(message_of(error))
        self._ask()

    @Slot(object)
    def _on_pointed(self, field: SheetField) -> None:
        words = f"{field.label} {field.shown}".strip()
        self.figures.damper.show_dimension(Dimension(field.mark, words) if field.mark else None)

    # --- actions -------------------------------------------------------------------------------

    def _show_actions(self) -> None:
        if self.writing:
            problems = self._checked.problems if self._checked is not None else ()
            actions = writing_actions(
                problems,
                keeping=KEEP in self._busy,
                form=self.left.currentWidget() is self.form,
            )
        else:
            actions = reading_actions(
                self.opened,
                who=self._who,
                empty=self.left.currentWidget() is self.none,
                unkept=bool(self.unkept()),
                approving=APPROVE in self._busy,
            )
        self.action_bar.show_actions(actions)

    def above(self) -> QWidget | None:
        """Return the actions: what is refused lies above them."""
        return self.action_bar

    @Slot(str)
    def _on_refused(self, why: str) -> None:
        self.refuse(why)
        if why.endswith(WRONG_FIRST) and self.left.currentWidget() is self.form:
            self.form.go_to_fault()

    @Slot(str, object)
    def _on_chosen(self, action: str, given: dict[str, str]) -> None:
        try:
            if action == APPROVE:
                self._approve(given)
            else:
                self._do[action]()
        except StationError as error:
            self.told.emit(message_of(error))
            if action in (READ, WRITE):
                self.place.setFocus(Qt.FocusReason.OtherFocusReason)

    def _read(self) -> None:
        place = self.place.text().strip() or ask_to_open(self)
        if not place:
            return
        text = read_source(place)
        self._begin(text, f"Read {place}.")
        self.editor.mark_unkept()

    def _write(self) -> None:
        opened = self.opened.source if self.opened is not None else ""
        self.form.flush()
        text = self.editor.text if self.writing else opened
        typed = self.place.text().strip()
        if typed:
            path = write_source(typed, text)
        else:
            chosen = ask_to_save(self, text)
            if not chosen:
                return
            path = replace_source(chosen, text)
        self.told.emit(Message(f"Written: {path.name} in {path.parent}", Tone.GOOD))

    def _new(self) -> None:
        if self.unkept():
            self._turn(writing=True)
        else:
            self._anew()

    def _anew(self) -> None:
        if self.opened is not None:
            source = self.opened.source
            self._begin(source if self.opened.row.state == DRAFT else raised(source), "")

    def _example(self) -> None:
        self._begin(example(), "An example: replace its figures by your unit's own.")

    def _begin(self, text: str, done: str) -> None:
        words = f"{done} {COMES_BACK}" if self.unkept() else done
        self.editor.begin(text)
        self._turn(writing=True)
        if words:
            self.told.emit(Message(words.strip(), Tone.GOOD))

    def _turn(self, *, writing: bool) -> None:
        """Turn between list and text."""
        self.writing, self._checked, self._to_keep = writing, None, None
        self._fit()
        self.figures.damper.show_dimension(None)
        if writing:
            self.as_text = False
            self.form.section, self.form.step, self.form.adding = 0, None, None
            self.left.setCurrentWidget(self.editor)
            self.editor.area.setFocus(Qt.FocusReason.OtherFocusReason)
            self._ask()
        else:
            self.left.setCurrentWidget(self.list if self.list.rows.rows else self.none)
            self.list.setFocus(Qt.FocusReason.OtherFocusReason)
            self.look()
        self._show_actions()

    def _leave(self) -> None:
        self.form.flush()
        if self.unkept():
            self.told.emit(Message("Your text waits here; Ctrl+N continues it.", Tone.QUIET))
        self._turn(writing=False)

    def _keep(self) -> None:
        self.form.flush()
        source, checked = self.editor.text, self._checked
        if checked is None or checked.source != source:
            # Sooner than the check: that comes first, so that what is wrong is said in place.
            self._to_keep = source
            self._ask()
            return
        self._to_keep = None
        if checked.problems:
            if self.left.currentWidget() is self.form:
                self.form.go_to_fault()
        else:
            self._start(KEEP, {"source": source}, partial(self._on_kept, source, checked.row))

    def _on_kept(self, source: str, row: SpecificationRow, sentence: str) -> None:
        self._end(KEEP, Message(sentence, Tone.GOOD))
        self._to_choose = row
        if self.editor.text == source:
            # Written on meanwhile, it would be another text than the one that is kept.
            self.editor.forget()
            self._turn(writing=False)

    def _approve(self, given: dict[str, str]) -> None:
        if self.opened is not None:
            self._start(APPROVE, {"key": self.opened.row.key, **given}, self._on_approved)

    def _on_approved(self, sentence: str) -> None:
        self._end(APPROVE, Message(sentence, Tone.GOOD))
        self.look()

    def _start(self, what: str, fields: dict[str, str], done: Callable[[str], None]) -> None:
        self._busy.add(what)
        self._show_actions()
        self.told.emit(Message("Working…", Tone.QUIET))
        action = "draft" if what == KEEP else "approve"
        self._bridge.act(action, fields, done, partial(self._end, what))

    def _end(self, what: str, message: Message) -> None:
        self._busy.discard(what)
        self._show_actions()
        self.told.emit(message)
