"""A scanner that types: a burst of characters ended by Return, Enter or Tab is one scan.

No Qt and no clock in here: who has the key events says what was typed and when.
"""

GAP_S = 0.050
"""Characters of a scan follow each other within less than this; a hand is slower."""
LEAST, MOST = 4, 200
"""Characters of a scan: fewer can be a hand that slipped, more is no label."""
ENDS = frozenset("\r\n\t")


class Wedge:
    """Recognises a scan among key presses.

    A key that types nothing, such as Shift, changes nothing; one that repeats because it is held,
    a pause, or a control character ends what was begun.
    """

    def __init__(self) -> None:
        self._text = ""
        self._last_s = 0.0

    @property
    def text(self) -> str:
        """Return what may be the beginning of a scan."""
        return self._text

    def feed(self, typed: str, at_s: float, *, repeat: bool = False) -> str | None:
        """Take the text of one key press at ``at_s`` (seconds of any steady clock).

        Gives the scan, without its end and outer spaces, when this key completes one.
        """
        if not typed:
            return None
        if not 0 <= at_s - self._last_s < GAP_S:
            self._text = ""
        self._last_s = at_s
        if typed in ENDS:
            scan, self._text = self._text.strip(), ""
            return scan if LEAST <= len(scan) <= MOST and not repeat else None
        if repeat or not typed.isprintable():
            self._text = ""
        elif len(self._text) <= MOST:
            self._text += typed
        return None

    def clear(self) -> None:
        """Forget what was begun."""
        self._text = ""
