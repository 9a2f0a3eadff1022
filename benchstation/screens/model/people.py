"""What the window asks of the station for the page People."""

from collections.abc import Sequence
from concurrent.futures import Future
from typing import Protocol

from benchstation.screens.model.lists import ListDetail, ListRow


class PeopleService(Protocol):
    """Who may sign here. Changes go by ``act``."""

    def people(self) -> Future[Sequence[ListRow]]:
        """Return everyone who was ever enrolled, by name; those who left last."""

    def open_person(self, key: str) -> Future[ListDetail]:
        """Open one of them, with what whoever is signed in may do."""
