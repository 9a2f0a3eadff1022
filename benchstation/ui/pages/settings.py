"""Settings: what the bench goes by, and who changed what weighs on evidence."""

from collections.abc import Sequence
from concurrent.futures import Future

from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.ui.pages.listing import ListingPage


class SettingsPage(ListingPage):
    """The groups of settings."""

    name = "settings"

    def fetch_rows(self) -> Future[Sequence[ListRow]]:
        """Ask for the groups."""
        return self._bridge.port.settings()

    def fetch(self, key: str) -> Future[ListDetail]:
        """Ask for one group."""
        return self._bridge.port.open_settings(key)
