"""Whether the window may close: it asks first where the watch would end or a text be lost."""

import math
import time
from collections.abc import Callable, Iterable

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.bridge import Message

AGAIN_WITHIN_S = 20.0
NOBODY_WATCHES = "Nobody watches the pressure when this closes: close the window once more to end."
UNKEPT = (
    "A text here is not saved yet. Save it or write it to a file; close the window once more to "
    "lose it."
)


class Closing:
    """Asks once; closing again soon means it."""

    def __init__(self, go: Callable[[str], None], tell: Callable[[Message], None]) -> None:
        self._go, self._tell = go, tell
        self._asked_at = -math.inf
        self._warned_of = ""

    def may_close(self, watched: str, unkept: Iterable[tuple[str, str]]) -> bool:
        """Return whether nothing is against it; else show what is.

        ``watched`` says what nobody would watch any more, ``unkept`` pages and their texts.
        """
        now = time.monotonic()
        if watched and now - self._asked_at > AGAIN_WITHIN_S:
            self._asked_at = now
            self._tell(Message(f"{watched} {NOBODY_WATCHES}", Tone.DANGER))
            return False
        for page, text in unkept:
            if text and text != self._warned_of:
                self._warned_of = text
                self._go(page)
                self._tell(Message(UNKEPT, Tone.CAUTION))
                return False
        return True
