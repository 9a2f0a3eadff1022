"""Audit trail: every entry of the journals, found by kind, person, unit and time."""

from concurrent.futures import Future
from functools import partial

from PySide6.QtCore import Qt, QTimer, Slot
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.audit import AuditView
from benchstation.screens.model.elements import ActionView, Tone
from benchstation.screens.model.lists import ListDetail
from benchstation.ui.pages.listing import ListingPage
from benchstation.ui.shell.bridge import Message
from benchstation.ui.shell.labels import label
from benchstation.ui.shell.printing import documents
from benchstation.ui.widgets.forms.fields import TextField

SEARCH, ALL, OLDER, WRITE = "search", "all", "older", "write"
SEARCH_AFTER_MS = 250


class AuditPage(ListingPage):
    """Who did what, when and why, the newest first."""

    name = "entries of the journals"
    none_yet = (
        "No entry is found.\n\nWrite what it is called, such as deviation or signed; by:NAME, "
        "serial:SERIAL, from:2026-11-01 and to:2026-11-30 narrow it. Ctrl+U shows all."
    )

    def over_list(self) -> tuple[QWidget, ...]:
        """Return the field of the search, and what is said of what it found."""
        self._before = ""
        self._question = 0
        self.search = TextField()
        self.search.setPlaceholderText("deviation, by:name, serial:…, from:2026-11")
        self.search.setAccessibleName("search the audit trail")
        self.said = label("", "strong", wrap=True)
        self.said.hide()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SEARCH_AFTER_MS)
        self._timer.timeout.connect(self.look)
        self.search.textEdited.connect(self._timer.start)
        self.search.finished.connect(self.look)
        return self.search, self.said

    def fetch(self, key: str) -> Future[ListDetail]:
        """Ask for one entry."""
        return self._bridge.port.open_entry(key)

    @Slot()
    def look(self) -> None:
        """Fetch the newest entries that the words name."""
        self._timer.stop()
        self._ask_for("")

    def go_to(self, place: str) -> None:
        """Show the entries that another page's words name."""
        self.search.setText(place)
        self.look()

    def _ask_for(self, before: str) -> None:
        self._question += 1
        ask = partial(self._bridge.port.audit, self.search.text().strip(), before)
        self._bridge.follow(ask, partial(self._on_page, self._question, before), self.told.emit)

    def _on_page(self, asked: int, before: str, view: AuditView) -> None:
        if asked != self._question:
            return
        self._before = view.before
        self.said.setText(view.said)
        self.said.setVisible(bool(view.said))
        if before:
            self.list.rows.append(list(view.rows))
        else:
            self._on_found(view.rows)
        self._offer()

    def _offer(self) -> None:
        asks = bool(self.search.text().strip())
        self.action_bar.show_actions(
            (
                ActionView(SEARCH, "Search", "Ctrl+F"),
                ActionView(ALL, "See all", "Ctrl+U", asks, "" if asks else "these are all"),
                ActionView(
                    OLDER,
                    "Show older",
                    "Ctrl+M",
                    bool(self._before),
                    "" if self._before else "there are no older ones",
                ),
                ActionView(WRITE, "Write CSV", "Ctrl+I"),
            )
        )

    def show_detail(self, detail: ListDetail) -> None:
        """Show an entry; what may be done is about all that is found."""
        super().show_detail(detail)
        self._offer()

    @Slot(str, object)
    def _on_chosen(self, action: str, given: dict[str, str]) -> None:
        if action == SEARCH:
            self.search.setFocus(Qt.FocusReason.ShortcutFocusReason)
            self.search.selectAll()
        elif action == ALL:
            self.go_to("")
        elif action == OLDER:
            self._ask_for(self._before)
        else:
            self.told.emit(Message("Writing the audit trail…", Tone.QUIET))
            write = partial(self._bridge.port.write_audit, self.search.text().strip(), documents())
            self._bridge.follow(write, self._on_written, self.told.emit)

    def _on_written(self, paths: object) -> None:
        assert isinstance(paths, tuple | list)
        self.told.emit(Message(f"Written: {paths[0]}", Tone.GOOD))
