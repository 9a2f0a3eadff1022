"""What the window asks of the station for the page Settings."""

from collections.abc import Sequence
from concurrent.futures import Future
from typing import Protocol

from benchstation.screens.model.lists import ListDetail, ListRow


class SettingsService(Protocol):
    """What the bench goes by. Changes go by ``act``."""

    def settings(self) -> Future[Sequence[ListRow]]:
        """Return the groups of settings, each with the most telling of its values."""

    def open_settings(self, key: str) -> Future[ListDetail]:
        """Open one of them, with what whoever is signed in may do."""
