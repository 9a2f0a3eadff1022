"""Whether the window may close: it asks first where a watch or capture ends, or a text is lost."""

import math
import time
from collections.abc import Callable, Iterable

from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.bridge import Message

AGAIN_WITHIN_S = 20.0
NOBODY_WATCHES = "Nobody watches the pressure when this closes."
ONCE_MORE = "Close the window once more to end."
UNKEPT = (
    "A text here is not saved yet. Save it or write it to a file; close the window once more to "
    "lose it."
)


class Closing:
    """Asks once; closing again soon means it. The end of the whole session is never held up."""

    def __init__(self, go: Callable[[str], None], tell: Callable[[Message], None]) -> None:
        self._go, self._tell = go, tell
        self._asked_at = -math.inf
        self._warned_of = ""
        self._session_ends = False

    def end_session(self) -> None:
        """Take note that the desktop's session ends: nobody is there to be asked."""
        self._session_ends = True

    def may_close(self, view: BenchView | None, unkept: Iterable[tuple[str, str]]) -> bool:
        """Return whether nothing is against it; else show what is.

        ``unkept`` is pages and the texts on them that are not saved.
        """
        if self._session_ends:
            return True
        now = time.monotonic()
        watched, unfinished = (view.watched, view.unfinished) if view is not None else ("", "")
        if (watched or unfinished) and now - self._asked_at > AGAIN_WITHIN_S:
            self._asked_at = now
            parts = (watched, watched and NOBODY_WATCHES, unfinished, ONCE_MORE)
            tone = Tone.DANGER if watched else Tone.CAUTION
            self._tell(Message(" ".join(part for part in parts if part), tone))
            return False
        for page, text in unkept:
            if text and text != self._warned_of:
                self._warned_of = text
                self._go(page)
                self._tell(Message(UNKEPT, Tone.CAUTION))
                return False
        return True
