"""What the window asks of the station for the page Records, beside finding and opening."""

from concurrent.futures import Future
from typing import Protocol

UNITS_OF, UNITS_SINCE = "units_of", "units_since"
"""Actions of an instrument that go to Records: all units that rest on it, or those in doubt."""
SINCE = " since the last good check"
"""Behind an instrument's name in a search: only what was measured since then."""


class RecordsPort(Protocol):
    """What a search covers."""

    def about_search(self, text: str) -> Future[str]:
        """Say which instrument a search names and how many units rest on it; empty: none."""
