"""The start of the day: lines that are done, open or put off; the next open one opens by itself."""

from collections.abc import Sequence
from concurrent.futures import Future

from benchstation.screens.model.elements import Tone
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.ui.pages.listing import ListingPage


class DayPage(ListingPage):
    """What is still to be seen to today."""

    name = "start of the day"

    def fetch_rows(self) -> Future[Sequence[ListRow]]:
        """Ask for the lines."""
        return self._bridge.port.day()

    def fetch(self, key: str) -> Future[ListDetail]:
        """Ask for one line."""
        return self._bridge.port.open_day_line(key)

    def _to_choose(self, rows: Sequence[ListRow]) -> str:
        """Return the line that is chosen while it is open, else the first that is."""
        key = super()._to_choose(rows)
        still = [row.key for row in rows if row.tone is Tone.CAUTION]
        return key if key in still or not still else still[0]
