"""Work that takes one thread a while: how far it is, and that it is to stop."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from benchstation.driver_api.errors import StationError
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.records import CheckView


class LongWork:
    """What such work has in common; ``view`` and ``stop`` may be called from any thread."""

    begins = ""
    """What is said of it before its thread begins."""

    def __init__(self) -> None:
        self._stop = threading.Event()
        self._view = CheckView("", Tone.QUIET)

    def view(self) -> CheckView:
        """Return how far it is, or what it came to."""
        return self._view

    def stop(self) -> None:
        """Stop it soon."""
        self._stop.set()

    def begin(self) -> None:
        """Show it as under way before its thread begins."""
        self._stop.clear()
        self._view = CheckView(self.begins, Tone.QUIET, 0.0)

    @contextmanager
    def _telling(self, failed: str) -> Iterator[None]:
        """Show what stopped it, behind these words, and let it go on."""
        try:
            yield
        except BaseException as error:
            said = str(error) if isinstance(error, StationError) else "the program failed."
            self._view = CheckView(f"{failed}: {said}", Tone.CAUTION)
            raise
