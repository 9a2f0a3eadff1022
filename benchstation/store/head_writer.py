"""Writing the last signed head beside the settings, by a thread: no filing waits for it.

The journal with its own copy of the head is on the disk first. A program that is killed in between
leaves the head before, which the journal holds as well.
"""

import threading
from pathlib import Path

from benchstation.store.signed_heads import SignedHead
from benchstation.store.trust import Trust


class HeadWriter:
    """Writes the newest head it was given; of several that wait, the last."""

    def __init__(self, trust: Trust) -> None:
        self._trust = trust
        self._changed = threading.Condition()
        self._next: tuple[Path, str, SignedHead] | None = None
        self._ended = False
        self._thread: threading.Thread | None = None

    def keep(self, path: Path, first: str, head: SignedHead) -> None:
        """Have a head written soon; returns at once."""
        with self._changed:
            self._next = (path, first, head)
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="last signed head")
                self._thread.start()
            self._changed.notify()

    def close(self) -> None:
        """Return when the last head is written."""
        with self._changed:
            self._ended = True
            self._changed.notify()
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        while True:
            with self._changed:
                while self._next is None and not self._ended:
                    self._changed.wait()
                given, self._next = self._next, None
            if given is None:
                return
            self._trust.keep(*given)
