"""To settle: where two said different things of one, with both versions."""

from collections.abc import Sequence
from concurrent.futures import Future

from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.ui.pages.listing import ListingPage


class SettlingPage(ListingPage):
    """What waits for a person who has seen both versions."""

    name = "to settle"
    none_yet = (
        "Nothing to settle.\n\nWhere two benches, or a bench and the shop's desk, said different "
        "things of one person, lot, specification or order without knowing of each other, both "
        "versions wait here. What the shop had stays in force until then; what takes something "
        "away is in force at once."
    )

    def fetch_rows(self) -> Future[Sequence[ListRow]]:
        """Ask for what waits."""
        return self._bridge.port.settling()

    def fetch(self, key: str) -> Future[ListDetail]:
        """Ask for one conflict."""
        return self._bridge.port.open_settling(key)
