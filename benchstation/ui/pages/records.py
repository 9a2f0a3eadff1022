"""Records: find a unit, open it, write it out, and check the journal."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import ActionView, TaskView, Tone
from benchstation.screens.model.filters import filtered, question_in
from benchstation.screens.model.records import CheckView, RecordDetail, RecordRow, rebuild_in
from benchstation.ui.pages.list_page import ListPage
from benchstation.ui.shell.bridge import Bridge, Message
from benchstation.ui.shell.labels import label
from benchstation.ui.shell.layouts import clear, down
from benchstation.ui.shell.poll import Poll
from benchstation.ui.shell.printing import Paper, Printing, documents
from benchstation.ui.shell.scroller import Scroller
from benchstation.ui.shell.text_scale import soft
from benchstation.ui.widgets.drawings.picture import Callout
from benchstation.ui.widgets.forms.act_panel import ActPanel
from benchstation.ui.widgets.forms.check_panel import CheckPanel
from benchstation.ui.widgets.forms.fields import TextField
from benchstation.ui.widgets.forms.filter_panel import FilterPanel
from benchstation.ui.widgets.lists.record_detail import Detail
from benchstation.ui.widgets.readout.actions import Actions

SEARCH_AFTER_MS = 250
NONE_YET = (
    "No unit is filed yet.\n\nA unit's record is written once, at the last step of its route, and "
    "is never altered. It is found here by serial, family, order, technician, or by the lot of "
    "its oil or of a part. An instrument's id, serial number or title finds every unit that rests "
    "on it."
)
NONE_FOUND = (
    "Nothing is found for {}.\n\nTry fewer letters or fewer filters (Ctrl+T), or see all (Ctrl+U)."
)
SEARCH, FILTER, ALL = "search", "filter", "all"
LIST, LINES, PAPERS = "list", "lines", "papers"
NOTICE, TRAIL = "give_notice", "trail"
MORE, EXPORT, VERIFY, LABEL = "more", "export", "verify", "label"
STOP_PAPERS = "Stop writing"
START, STOP = ActionView(VERIFY, "Verify the journal", "Ctrl+J"), "Stop the check"
LOOK_MS = 200
ACTS_PX = 222
NOTE_SHOWN = "note_shown"
SHEET = "data_sheet"


def unless(can: bool, why: str) -> str:
    """Return why something is not possible; empty where it is."""
    return "" if can else why


class RecordsPage(ListPage):
    """Found units at the left, the one that is open at the right."""

    name = "records found"
    none_yet = NONE_YET
    quiet_actions = True
    leads = Signal(str, str)
    """The page Audit trail, and the unit whose trail is wanted."""

    def __init__(self, bridge: Bridge, parent: QWidget | None = None) -> None:
        super().__init__(bridge, parent)
        self._asked = 0
        self._more = self._among_older = False
        self._open_first = False
        self._wanted = ""
        """The unit that opens when the search for its serial is answered."""
        self._writing = False
        self.search = TextField()
        self.search.setPlaceholderText("Serial, family, order, name, lot, or an instrument")
        self.search.setAccessibleName("search the records")
        self.search.setClearButtonEnabled(False)
        self.filters = FilterPanel()
        self.filters.asked.connect(self.search_for)
        self.filters.saved.connect(self._save_search)
        self.filters.closed.connect(self.close_filters)
        self.about = label("", "strong", wrap=True)
        self.about.hide()
        self.detail = Detail()
        self.folder = TextField()
        self.folder.setAccessibleName("folder to write into")
        self.folder.setText(str(documents()))
        self.printing = Printing(bridge, self.told.emit, self)
        self.check = CheckPanel("journal is checked")
        self.batch = CheckPanel("papers is written")
        self.out = Actions(columns=2, quiet=True)
        self.qa = Actions(columns=2, quiet=True)
        self.unit = Actions(columns=2, quiet=True)
        self.act_panel = ActPanel()
        self._act_unit = ""
        self.lists = Actions(columns=2, quiet=True)
        self._lay_out()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SEARCH_AFTER_MS)
        self._timer.timeout.connect(self.search_now)
        self.search.textEdited.connect(self._timer.start)
        self.search.finished.connect(self._on_enter)
        self.out.chosen.connect(self._on_chosen)
        self.out.refused.connect(self.refuse)
        self.lists.chosen.connect(self._on_list)
        self.lists.refused.connect(self.refuse)
        self.qa.chosen.connect(self._on_disposed)
        self.qa.refused.connect(self.refuse)
        self.unit.chosen.connect(self._on_unit_act)
        self.unit.refused.connect(self.refuse)
        self.act_panel.asked.connect(self._on_act_asked)
        self.act_panel.closed.connect(self.close_act)
        self._show_actions()
        self._poll = Poll(
            self, bridge.port.journal_check, self._show_check, self.told.emit, LOOK_MS
        )
        self._batch_poll = Poll(
            self, bridge.port.paper_batch, self._show_batch, self.told.emit, LOOK_MS
        )

    def _lay_out(self) -> None:
        row, left, right = self.lay_out_columns((self.search, self.about), 38, 62)
        left.addWidget(self.action_bar)
        right.addWidget(self.detail, 1)
        right.addWidget(self.filters, 1)
        right.addWidget(self.act_panel, 1)
        right.addWidget(self.check)
        right.addWidget(self.batch)
        self.qa.ask_in(right)
        self.lists.ask_in(right)
        self.acts = clear()
        column = down(self.acts, (2, 0, 2, 0), 8)
        column.addWidget(label("QA", "small"))
        column.addWidget(self.qa)
        column.addSpacing(8)
        column.addWidget(label("Unit", "small"))
        column.addWidget(self.unit)
        column.addSpacing(8)
        column.addWidget(label("Papers", "small"))
        column.addWidget(self.out)
        column.addSpacing(8)
        column.addWidget(label("All that is found", "small"))
        column.addWidget(self.lists)
        self.into = clear()
        into = down(self.into, spacing=2)
        into.addWidget(label("Write into folder", "small"))
        into.addWidget(self.folder)
        column.addWidget(self.into)
        column.addStretch(1)
        self.acts_place = Scroller(self.acts, "acts on the record", focus=Qt.FocusPolicy.NoFocus)
        row.addWidget(self.acts_place)
        self.rescale()

    def rescale(self) -> None:
        """Take the width of the acts at the text size in force."""
        self.acts_place.setFixedWidth(soft(ACTS_PX))

    def look(self) -> None:
        """Look for what has been filed since."""
        self.search_now()

    def catch_up(self) -> None:
        """Read what is open again; the list too, unless somebody is among older ones."""
        shown = self.detail.shown
        if shown is not None:
            self._open(shown.row.unit_id)
        if not self._among_older:
            self.search_now()

    def reword(self) -> None:
        """Read the open record anew."""
        if self.detail.shown is not None:
            self._open(self.detail.shown.row.unit_id)

    def callouts(self) -> tuple[Callout, ...]:
        """Explain where to look and what comes out."""
        return (
            (self.search, "words to look for"),
            (self.list, "the units found, newest first"),
            (self.detail, "the record that is open, whole"),
            (self.into, "the folder that files are written into"),
            (self.check, "what the check of the journal found"),
            (self.batch, "how far the certificates are"),
            (self.qa, "QA's word on the unit"),
            (self.unit, "ship it, take it back, amend its record"),
            (self.out, "check the journal, write the record out"),
            (self.lists, "all that the search finds as a list, and who was told of a unit"),
        )

    def press_key(self, key: str) -> bool:
        """Do the action on this key."""
        for panel in (self.filters, self.act_panel):
            if panel.isVisible() and panel.action_bar.press_key(key):
                return True
        bars = (self.action_bar, self.out, self.qa, self.unit, self.lists)
        return any(bar.press_key(key) for bar in bars)

    def _show_actions(self) -> None:
        verifying = self.check.shown.share is not None
        batch = self.batch.shown.share is not None
        asks = bool(self.search.text().strip())
        self.action_bar.show_actions(
            (
                ActionView(SEARCH, "Search", "Ctrl+F"),
                ActionView(FILTER, "Filters", "Ctrl+T"),
                ActionView(ALL, "See all", "Ctrl+U", asks, "" if asks else "these are all"),
                ActionView(
                    MORE,
                    "Show more",
                    "Ctrl+M",
                    self._more,
                    "" if self._more else "all that match are shown",
                ),
            )
        )
        shown = self.detail.shown
        can = shown is not None and not shown.no_record and not self._writing
        why = "it has no record" if shown is not None and shown.no_record else "choose a unit first"
        why = "it is being written" if self._writing else why
        label_can = can or (shown is not None and shown.labelled and not self._writing)
        self.out.show_actions(
            (
                ActionView(Paper.LABEL, "Print label", "Ctrl+K", label_can, unless(label_can, why)),
                ActionView(Paper.RECORD, "Print record", "Ctrl+P", can, unless(can, why)),
                ActionView(Paper.OPENED, "Open", "Ctrl+O", can, unless(can, why)),
                replace(START, label=STOP) if verifying else START,
                ActionView(LABEL, "Write label", "Ctrl+B", label_can, unless(label_can, why)),
                ActionView(
                    EXPORT, "Write PDF and JSON", "Ctrl+E", can, unless(can, why), primary=True
                ),
            )
        )
        self.lists.show_actions(
            (
                ActionView(LIST, "Write list", "Ctrl+I"),
                ActionView(LINES, "Write JSON lines", "Ctrl+G"),
                ActionView(PAPERS, STOP_PAPERS if batch else "Write certificates", "Ctrl+W"),
                ActionView(
                    NOTICE,
                    "Notice given",
                    "Ctrl+N",
                    shown is not None,
                    unless(shown is not None, why),
                    needs_reason=True,
                    does=NOTICE,
                    asks="Who was told, and how?",
                ),
                ActionView(
                    TRAIL,
                    "Audit trail",
                    "Ctrl+Y",
                    shown is not None,
                    unless(shown is not None, why),
                ),
            )
        )
        self.qa.show_actions(shown.actions if shown else ())
        self.unit.show_actions(shown.acts if shown else ())

    @Slot(str, object)
    def _on_chosen(self, action: str, _: dict[str, str]) -> None:
        if action == SEARCH:
            self.search.setFocus(Qt.FocusReason.ShortcutFocusReason)
            self.search.selectAll()
        elif action == FILTER:
            self.open_filters()
        elif action == ALL:
            self.search.clear()
            self.search_now()
        elif action == MORE:
            self._older()
        elif action in (EXPORT, LABEL):
            self._export(action)
        elif action in tuple(Paper):
            self._print(Paper(action))
        elif self.check.shown.share is not None:
            self._bridge.port.stop_check()
        else:
            self._bridge.follow(self._bridge.port.verify_journal, self._on_verified, self._failed)
            self._poll.once()

    @Slot(str, object)
    def _on_disposed(self, word: str, given: dict[str, str]) -> None:
        """Send QA's word on the unit that is open, and read it anew."""
        detail = self.detail.shown
        if detail is None:
            return
        unit = detail.row.unit_id
        does = next((action.does for action in detail.actions if action.id == word), "dispose")
        fields = {"unit": unit, "disposition": word, "signatures": word, **given}
        self._bridge.act(does, fields, partial(self._on_said, unit), self.told.emit)

    @Slot(str, object)
    def _on_list(self, action: str, given: dict[str, str]) -> None:
        """Write all that is found, or note who was told of the unit that is open."""
        text, port, detail = self.search.text().strip(), self._bridge.port, self.detail.shown
        if action == NOTICE and detail is not None:
            unit = detail.row.unit_id
            fields = {"unit": unit, "question": text, **given}
            self._bridge.act(NOTICE, fields, partial(self._on_said, unit), self.told.emit)
        elif action == TRAIL and detail is not None:
            self.leads.emit("audit", filtered(unit=detail.row.unit_id))
        elif action == PAPERS:
            self._write_papers(text)
        elif folder := self._folder():
            write = port.write_list if action == LIST else port.write_records
            self._begin("Writing all that is found…")
            ask = partial(write, text, folder)
            self._bridge.follow(ask, self._on_exported, self._not_exported)

    def _write_papers(self, text: str) -> None:
        """Begin writing the certificates of all that is found, or stop it."""
        port = self._bridge.port
        if self.batch.shown.share is not None:
            port.stop_papers()
        elif folder := self._folder():
            self._bridge.follow(
                partial(port.write_papers, text, folder), self._on_papers, self._no_papers
            )
            self._batch_poll.once()

    def _on_papers(self, _: Sequence[Path]) -> None:
        self._batch_poll.once()

    def _no_papers(self, message: Message) -> None:
        self._batch_poll.once()
        self.told.emit(message)

    def _show_batch(self, view: CheckView) -> None:
        """Show how far the papers are; they may have begun on another visit."""
        if view == self.batch.shown:
            return
        turned = (view.share is None) != (self.batch.shown.share is None)
        self.batch.show_check(view)
        if turned:
            self._show_actions()

    def _on_said(self, unit: str, sentence: str) -> None:
        self.told.emit(Message(sentence, Tone.GOOD))
        self._open(unit)
        self.search_now()

    # --- what becomes of a filed unit ----------------------------------------------------------

    @Slot(str, object)
    def _on_unit_act(self, act: str, _: dict[str, str]) -> None:
        """Open the form of an act, or do one that needs none."""
        detail = self.detail.shown
        if detail is None:
            return
        if act in detail.forms:
            self.close_filters()
            self._make_room()
            self._act_unit = detail.row.unit_id
            self.act_panel.open(detail.forms[act])
        else:
            self._export(act)

    @Slot()
    def close_act(self) -> None:
        """Put the record back in place of a form."""
        self.act_panel.close_form()
        self._show_record()

    @Slot(str, object)
    def _on_act_asked(self, act: str, given: dict[str, str]) -> None:
        unit = self._act_unit
        done = partial(self._on_acted, unit)
        self._bridge.act(act, {**given, "unit": unit}, done, self._on_act_refused)

    def _on_acted(self, unit: str, sentence: str) -> None:
        self.close_act()
        self._on_said(unit, sentence)

    def _on_act_refused(self, message: Message) -> None:
        self.act_panel.stay()
        self.told.emit(message)

    def _note_shown(self, unit: str) -> None:
        """Put on record that QA has this record before them: one signature may cover several."""
        # Whoever may say QA's word is QA.
        if self._bridge.who and not self.qa.bars("dispose"):
            self._bridge.act(NOTE_SHOWN, {"unit": unit}, lambda _: None, self.told.emit)

    # --- narrowing -----------------------------------------------------------------------------

    def open_filters(self) -> None:
        """Put the form of the filters in the record's place, filled in as the search stands."""
        ask = partial(self._bridge.port.filter_form, self.search.text())
        self._bridge.follow(ask, self._on_form, self.told.emit)

    def _on_form(self, task: TaskView) -> None:
        self.act_panel.close_form()
        self._make_room()
        self.filters.open(task, question_in(self.search.text()).words)

    @Slot()
    def close_filters(self) -> None:
        """Put the record back."""
        self.filters.hide()
        self._show_record()

    def _make_room(self) -> None:
        """Take the record and its acts away for a form."""
        self.detail.hide()
        self.acts_place.hide()

    def _show_record(self) -> None:
        self.detail.show()
        self.acts_place.show()
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot(str, str)
    def _save_search(self, name: str, question: str) -> None:
        fields = {"name": name, "question": question}
        removed = self.open_filters if not question else None
        self._bridge.act("save_search", fields, partial(self._on_saved, removed), self.told.emit)

    def _on_saved(self, then: Callable[[], None] | None, sentence: str) -> None:
        self.told.emit(Message(sentence, Tone.GOOD))
        if then is not None:
            then()

    # --- finding -------------------------------------------------------------------------------

    def search_for(self, words: str) -> None:
        """Search for these words; the first match opens."""
        text, self._wanted = rebuild_in(words)
        self.search.setText(text)
        self.close_filters()
        self._on_enter()

    @Slot()
    def search_now(self) -> None:
        """Find the newest units that match; only the last question's answer is shown."""
        self._among_older = False
        self._ask("")

    def _older(self) -> None:
        if self.list.rows.rows:
            self._among_older = True
            self._ask(self.list.rows.rows[-1].page_key)

    def _ask(self, before: str) -> None:
        self._timer.stop()
        self._asked += 1
        words = self.search.text().strip()
        self._bridge.follow(
            partial(self._bridge.port.find_records, words, before),
            partial(self._on_found, self._asked, before),
            self.told.emit,
        )
        if not before:
            self._bridge.follow(
                partial(self._bridge.port.about_search, words),
                partial(self._on_about, words),
                self.told.emit,
            )

    def _on_about(self, asked: str, words: str) -> None:
        """Show how many units rest on an instrument: a page of them is not all."""
        if asked == self.search.text().strip():
            self.about.setText(words)
            self.about.setVisible(bool(words))

    def _on_found(self, asked: int, before: str, rows: Sequence[RecordRow]) -> None:
        if asked != self._asked:
            return
        self._more = bool(rows) and bool(rows[-1].page_key)
        if before:
            self.list.rows.append(list(rows))
        else:
            self._show_first(list(rows))
        self._show_actions()

    def _show_first(self, rows: list[RecordRow]) -> None:
        shown = self.detail.shown.row.unit_id if self.detail.shown is not None else ""
        self.show_rows(rows)
        asked = question_in(self.search.text()).in_words
        self.nothing.setText(NONE_FOUND.format(asked) if asked else NONE_YET)
        if self._open_first and rows:
            self.list.setFocus(Qt.FocusReason.TabFocusReason)
            units = [row.unit_id for row in rows]
            place = units.index(self._wanted) if self._wanted in units else 0
            self.list.setCurrentIndex(self.list.rows.index(place, 0))
        elif shown:
            self._stay_at(shown, rows)
        self._open_first = False
        self._wanted = ""

    def _stay_at(self, unit: str, rows: Sequence[RecordRow]) -> None:
        """Go on at the open unit; one that is not among the rows found is closed."""
        for place, row in enumerate(rows):
            if row.unit_id == unit:
                self.list.setCurrentIndex(self.list.rows.index(place, 0))
                return
        self.detail.show_nothing()

    @Slot()
    def _on_enter(self) -> None:
        """Look now; the first match opens when the answer comes."""
        self._open_first = True
        self.search_now()

    # --- opening and writing -------------------------------------------------------------------

    def open_current(self) -> None:
        """Open the record of the unit that was chosen, if it is not open yet."""
        unit = self.list.current.unit_id
        if self.detail.shown is None or self.detail.shown.row.unit_id != unit:
            self.qa.stop_asking()  # What was typed is meant for the other unit.
            self._open(unit)

    def _open(self, unit: str) -> None:
        self._bridge.follow(
            partial(self._bridge.port.open_record, unit),
            partial(self._on_opened, unit),
            self._on_not_opened,
        )

    def _on_not_opened(self, message: Message) -> None:
        """Show the refusal where the record would stand, in place of another unit's."""
        self.told.emit(message)
        self.detail.show_nothing(message.text)
        self._show_actions()

    def _on_opened(self, unit: str, detail: RecordDetail) -> None:
        current = self.list.current
        if current is not None and current.unit_id == unit:
            if self.act_panel.isVisible() and unit != self._act_unit:
                self.close_act()
            self.detail.show_detail(detail)
            if not detail.no_record:
                self._note_shown(unit)
            self._show_actions()

    def _folder(self) -> Path | None:
        """Return the folder to write into; without one say so."""
        folder = self.folder.text().strip()
        if not folder:
            self.told.emit(Message("Say first into which folder to write.", Tone.CAUTION))
            self.folder.setFocus(Qt.FocusReason.OtherFocusReason)
        return Path(folder) if folder else None

    def _export(self, action: str) -> None:
        detail = self.detail.shown
        folder = self._folder() if detail is not None else None
        if detail is None or folder is None:
            return
        port = self._bridge.port
        write = {LABEL: port.write_label, SHEET: port.write_data_sheet}.get(
            action, port.export_record
        )
        what = {LABEL: "label", SHEET: "data sheet"}.get(action, "record")
        self._begin(f"Writing the {what} of {detail.row.serial}…")
        self._bridge.follow(
            partial(write, detail.row.unit_id, folder),
            self._on_exported,
            self._not_exported,
        )

    def _print(self, paper: Paper) -> None:
        detail, folder = self.detail.shown, self.folder.text().strip()
        if detail is not None:
            self.printing.do(paper, detail.row.unit_id, Path(folder) if folder else None)

    def _begin(self, words: str) -> None:
        self._writing = True
        self._show_actions()
        self.told.emit(Message(words, Tone.QUIET))

    def _not_exported(self, message: Message) -> None:
        self._writing = False
        self._show_actions()
        self.told.emit(message)

    def _on_exported(self, paths: Sequence[Path]) -> None:
        self._writing = False
        self._show_actions()
        names = " and ".join(path.name for path in paths)
        where = f" in {paths[0].parent}" if paths else ""
        self.told.emit(Message(f"Written: {names}{where}", Tone.GOOD))

    def _show_check(self, view: CheckView) -> None:
        """Show how far the check is, or what it found; it may have begun on another visit."""
        if view == self.check.shown:
            return
        turned = (view.share is None) != (self.check.shown.share is None)
        self.check.show_check(view)
        if turned:
            self._show_actions()

    def _on_verified(self, sentence: str) -> None:
        self._poll.once()
        self.told.emit(Message(sentence, self.check.shown.tone))

    def _failed(self, message: Message) -> None:
        self._poll.once()
        self.told.emit(message)
