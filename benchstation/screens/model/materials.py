"""What the window asks of the station for the page Materials."""

from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from typing import Protocol

from benchstation.screens.model.lists import ListDetail, ListRow

SHOW_UNITS = "show_units"
"""The action that goes to Records and searches for the open row's key."""
BOTTLE = "bottle"
"""The key of the nitrogen bottle, and of the action that works it out."""


class MaterialsService(Protocol):
    """Oil lots and the nitrogen bottle. Receiving and closing go by ``act``."""

    def materials(self) -> Future[Sequence[ListRow]]:
        """Return the lots that are open, then the bottle, then the closed lots."""

    def open_store(self, key: str) -> Future[ListDetail]:
        """Open one of them, with what whoever is signed in may do."""

    def work_out_bottle(self, fields: Mapping[str, str]) -> Future[ListDetail]:
        """Work out the charges that a bottle still gives."""
