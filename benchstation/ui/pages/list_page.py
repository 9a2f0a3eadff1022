"""What every page has that lists things at the left and opens one at the right."""

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QModelIndex, Qt, QTimer, Slot
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from benchstation.screens.model.bench import BenchView
from benchstation.ui.pages.page import Page
from benchstation.ui.shell.bridge import Bridge
from benchstation.ui.shell.labels import frame, label
from benchstation.ui.shell.layouts import across, down
from benchstation.ui.widgets.lists.row_list import RowList
from benchstation.ui.widgets.readout.actions import Actions

CATCH_UP_MS = 300
"""So long after an entry what is shown is read again: more may come with it."""


class ListPage(Page):
    """A list, or words where there is nothing to list. A subclass says what opens, and where."""

    name = ""
    """What the list holds, for a screen reader."""
    none_yet = ""
    """What stands in the list's place while there is nothing to list."""
    quiet_actions = False
    """Smaller buttons, where they stand below the list and take its height."""

    def __init__(self, bridge: Bridge, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._bridge = bridge
        self._place = ""
        self.list = RowList(self.name)
        self.nothing = label(self.none_yet, "quiet", wrap=True)
        self.nothing.setContentsMargins(16, 16, 16, 16)
        self.none = frame("panel")
        around = QVBoxLayout(self.none)
        around.addWidget(self.nothing)
        around.addStretch(1)
        self.none.hide()
        self.action_bar = Actions(quiet=self.quiet_actions)
        self.list.selectionModel().currentChanged.connect(self._on_current)
        self.action_bar.chosen.connect(self._on_chosen)
        self.action_bar.refused.connect(self.refuse)
        self._written = -1
        self._catching_up = QTimer(self)
        self._catching_up.setSingleShot(True)
        self._catching_up.setInterval(CATCH_UP_MS)
        self._catching_up.timeout.connect(self._on_older)
        bridge.seen.connect(self._note_written)

    @Slot(object)
    def _note_written(self, view: BenchView) -> None:
        """Note that more is on record; several entries at once are one."""
        older, self._written = -1 < self._written < view.written, view.written
        if older and self.isVisible() and not self._catching_up.isActive():
            self._catching_up.start()

    @Slot()
    def _on_older(self) -> None:
        if self.isVisible():
            self.catch_up()

    def catch_up(self) -> None:
        """Show what was put on record since this was read."""
        self.look()

    def lay_out_columns(
        self, above: Sequence[QWidget], left_share: int, right_share: int
    ) -> tuple[QHBoxLayout, QVBoxLayout, QVBoxLayout]:
        """Return the page's row and columns; the list stands in the left one, below ``above``."""
        row, left, right = across(self, (12, 10, 12, 0), 10), down(spacing=8), down(spacing=8)
        for part in above:
            left.addWidget(part)
        for part in (self.none, self.list):
            left.addWidget(part, 1)
        row.addLayout(left, left_share)
        row.addLayout(right, right_share)
        return row, left, right

    def showEvent(self, event: QShowEvent) -> None:
        """Look for what has changed since."""
        super().showEvent(event)
        if self.focusWidget() is None:
            self.list.setFocus(Qt.FocusReason.OtherFocusReason)
        self.look()

    def look(self) -> None:
        """Fetch the rows; what is open is read anew."""
        raise NotImplementedError

    def go_to(self, place: str) -> None:
        """Choose a row that another page leads to, when the rows are here."""
        self._place = place
        self.look()

    def take_place(self, rows: Sequence[Any]) -> Any:
        """Return the row that another page leads to, once; ``None``: none does, or it is gone."""
        place, self._place = self._place, ""
        names = ("key", "unit_id")
        fits = (row for row in rows if place in [getattr(row, name, "") for name in names])
        return next(fits, None) if place else None

    def open_current(self) -> None:
        """Open the row that was chosen just now."""
        raise NotImplementedError

    def show_rows(self, rows: Sequence[Any]) -> None:
        """List these rows, or say that there are none."""
        self.list.rows.replace(list(rows))
        self.list.setVisible(bool(rows))
        self.none.setVisible(not rows)

    @Slot(QModelIndex, QModelIndex)
    def _on_current(self, current: QModelIndex, _: QModelIndex) -> None:
        if current.isValid():
            self.open_current()

    @Slot(str, object)
    def _on_chosen(self, action: str, given: dict[str, str]) -> None:
        """Do an action of what is open."""
        raise NotImplementedError

    def above(self) -> QWidget | None:
        """Return the actions: what is refused lies above them."""
        return self.action_bar

    def press_key(self, key: str) -> bool:
        """Do the action on this key."""
        return self.action_bar.press_key(key)
