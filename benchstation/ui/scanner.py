"""Holds back the keys of a scan that no field has asked for, and gives them on together.

A scanner types faster than a hand. Until it is clear whether a key begins a scan, some fifty
milliseconds, it is kept; then it does what its action does.
"""

import time
from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer, Slot

from benchstation.ui.wedge import GAP_S, Wedge


class Scanner(QObject):
    """Keys go in; out comes a scan, or the keys one by one as if nothing had been."""

    def __init__(
        self,
        scanned: Callable[[str], None],
        pressed: Callable[[str], None],
        parent: QObject | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        super().__init__(parent)
        self._scanned, self._pressed, self._clock = scanned, pressed, clock
        self._wedge = Wedge()
        self._kept: list[str] = []
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(round(GAP_S * 1000) + 10)
        self._timer.timeout.connect(self.give_back)

    def take(self, text: str, key: str) -> bool:
        """Take a key with the text it types; says whether it is kept.

        What can be no part of a scan is not kept, and gives back what was kept before.
        """
        scan = self._wedge.feed(text, self._clock())
        if scan is not None:
            self._timer.stop()
            self._kept.clear()
            self._scanned(scan)
            return True
        if not self._wedge.text:
            self.give_back()
            return False
        if len(self._wedge.text) == 1:
            # A pause came before: what was kept was a hand's.
            self.give_back()
        self._kept.append(key)
        self._timer.start()
        return True

    @Slot()
    def give_back(self) -> None:
        """No scan: let the kept keys do what they do."""
        self._timer.stop()
        kept, self._kept = self._kept, []
        for key in kept:
            self._pressed(key)
