"""What the page Audit trail shows: entries of the journals in plain words."""

from collections.abc import Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from benchstation.screens.model.lists import ListDetail, ListRow


@dataclass(frozen=True, slots=True)
class AuditView:
    """A page of the trail, what it shows in words, and where the next one begins."""

    rows: Sequence[ListRow]
    said: str
    before: str
    """Hand this back to get older entries; empty: there are none."""


class AuditService(Protocol):
    """What the page asks of the station."""

    def audit(self, text: str, before: str = "") -> Future[AuditView]:
        """Return entries that a text names by person, kind, unit and time, the newest first."""

    def open_entry(self, key: str) -> Future[ListDetail]:
        """Open one entry: what it says, and its place in the chain."""

    def write_audit(self, text: str, folder: Path) -> Future[Sequence[Path]]:
        """Write all entries that a text names as CSV; gives the path."""
