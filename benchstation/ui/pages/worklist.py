"""Worklist: what waits for somebody; each line leads to the page where the act on it is done."""

from collections.abc import Sequence
from concurrent.futures import Future

from PySide6.QtCore import Signal

from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.model.worklist import LEAD, PAGE, PLACE
from benchstation.ui.pages.listing import ListingPage


class WorklistPage(ListingPage):
    """Units to judge, instruments to see to, lots that end."""

    name = "worklist"
    none_yet = (
        "Nothing waits.\n\nUnits that QA has not judged, that are on hold or have a deviation, "
        "second readings, instruments that are due or failed, and lots that end soon stand here."
    )
    leads = Signal(str, str)
    """The page that a line leads to, and what stands there."""

    def fetch_rows(self) -> Future[Sequence[ListRow]]:
        """Ask for the lines."""
        return self._bridge.port.worklist()

    def fetch(self, key: str) -> Future[ListDetail]:
        """Ask for one line."""
        return self._bridge.port.open_work(key)

    def do(self, action: str, fields: dict[str, str]) -> None:
        """Go where the act is done."""
        if action == LEAD:
            self.leads.emit(fields[PAGE], fields[PLACE])
        else:
            super().do(action, fields)
