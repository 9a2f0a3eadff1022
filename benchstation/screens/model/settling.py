"""What the window asks of the station for the page To settle."""

from collections.abc import Sequence
from concurrent.futures import Future
from typing import Protocol

from benchstation.screens.model.lists import ListDetail, ListRow


class SettlingService(Protocol):
    """What waits for a person who has seen both versions. It is settled by ``act``."""

    def settling(self) -> Future[Sequence[ListRow]]:
        """Return what waits, the oldest first."""

    def open_settling(self, key: str) -> Future[ListDetail]:
        """Open one of them, with what whoever is signed in may do."""
