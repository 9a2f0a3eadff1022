"""What the window asks of the station for the page Records, beside finding and opening."""

from __future__ import annotations

from concurrent.futures import Future
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from benchstation.screens.model.bench import Tone

UNITS_OF, UNITS_SINCE = "units_of", "units_since"
"""Actions of an instrument that go to Records: all units that rest on it, or those in doubt."""
SINCE = " since the last good check"
"""Behind an instrument's name in a search: only what was measured since then."""


@dataclass(frozen=True, slots=True)
class CheckView:
    """The check of the journal: under way, or what the last one of this run found."""

    words: str
    """Empty when none was made."""
    tone: Tone
    share: float | None = None
    """How much of it is done, 0..1, while it is under way."""


class RecordsService(Protocol):
    """What a search covers, and the check of the journal."""

    def about_search(self, text: str) -> Future[str]:
        """Say which instrument a search names and how many units rest on it; empty: none."""

    def verify_journal(self) -> Future[str]:
        """Check the whole journal; a sentence, or a ``StationError`` when anything does not fit."""

    def stop_check(self) -> None:
        """Have a check that is under way end soon."""

    def journal_check(self) -> CheckView:
        """Return how far the check is, or what it found; cheap enough to ask often."""
