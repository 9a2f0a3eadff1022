"""People: who may sign here, and what each may change."""

from collections.abc import Sequence
from concurrent.futures import Future

from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.ui.pages.listing import ListingPage


class PeoplePage(ListingPage):
    """Everyone enrolled. A scan here signs in as on every page, but in a form that asks for it."""

    name = "people"

    def fetch_rows(self) -> Future[Sequence[ListRow]]:
        """Ask for everyone."""
        return self._bridge.port.people()

    def fetch(self, key: str) -> Future[ListDetail]:
        """Ask for one person."""
        return self._bridge.port.open_person(key)
