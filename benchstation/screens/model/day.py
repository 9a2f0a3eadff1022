"""What the window asks of the station for the start of the day."""

from collections.abc import Sequence
from concurrent.futures import Future
from typing import Protocol

from benchstation.screens.model.lists import ListDetail, ListRow


class DayService(Protocol):
    """What is still to be seen to today. What is done goes by ``act``."""

    def day(self) -> Future[Sequence[ListRow]]:
        """Return the lines of today in the order in which they are best seen to."""

    def open_day_line(self, key: str) -> Future[ListDetail]:
        """Open one of them, with what whoever is signed in may do."""
