"""What the page Worklist shows, and where each of its lines leads."""

from collections.abc import Sequence
from concurrent.futures import Future
from typing import Protocol

from benchstation.screens.model.lists import ListDetail, ListRow

LEAD = "lead"
"""The action of a line: go where the act on it is done."""
PAGE, PLACE = "page", "place"
"""Fields of a line: the page that it leads to, and what stands there: a row's key, or a search."""


class WorklistService(Protocol):
    """What the page asks of the station."""

    def worklist(self) -> Future[Sequence[ListRow]]:
        """Return what waits for somebody, the most pressing kind first."""

    def open_work(self, key: str) -> Future[ListDetail]:
        """Open one line of it."""
