"""Materials: oil lots, kits, parts, tools and weights, and what a bottle still gives."""

from collections.abc import Sequence
from concurrent.futures import Future
from functools import partial

from PySide6.QtCore import Signal

from benchstation.screens.model.elements import Tone
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.model.materials import BOTTLE, SHOW_UNITS
from benchstation.screens.model.records import words_for_lot
from benchstation.ui.pages.listing import ListingPage
from benchstation.ui.shell.bridge import Message


class MaterialsPage(ListingPage):
    """What the shop has received, and the bottle."""

    name = "materials"
    wanted = Signal(str)
    """Words to search the records for: that lot, whole."""

    def fetch_rows(self) -> Future[Sequence[ListRow]]:
        """Ask for everything in store."""
        return self._bridge.port.materials()

    def fetch(self, key: str) -> Future[ListDetail]:
        """Ask for one lot, or the bottle."""
        return self._bridge.port.open_store(key)

    def do(self, action: str, fields: dict[str, str]) -> None:
        """Show a lot's units, work a bottle out, or have the bench do it."""
        if action == SHOW_UNITS and self.opened is not None:
            self.wanted.emit(words_for_lot(self.opened.row.title))
        elif action == BOTTLE:
            self._begin()
            work_out = partial(self._bridge.port.work_out_bottle, fields)
            self._bridge.follow(work_out, self._on_worked_out, self._on_failed)
        else:
            super().do(action, fields)

    def _on_worked_out(self, detail: ListDetail) -> None:
        self._busy = False
        self.told.emit(Message("Calculated; Ctrl+B does another.", Tone.GOOD))
        self.opened = detail
        self.close_form()
