"""A recorded line as a virtual device: what was received then is sent again, at any speed."""

from collections.abc import Sequence


class RecordedDevice:
    """Sends chunks at their times since it was first asked for output.

    Then it is silent, or with ``again`` begins anew.
    """

    def __init__(
        self, chunks: Sequence[tuple[float, bytes]], speed: float = 1.0, *, again: bool = False
    ) -> None:
        if not speed > 0.0 or not chunks:
            raise ValueError("there must be chunks, and a speed above zero")
        self._chunks = list(chunks)
        self._speed = speed
        self._again = again
        self._next = 0
        self._start: float | None = None

    @property
    def ended(self) -> bool:
        """Return True when all was sent."""
        return self._next >= len(self._chunks)

    def output(self, t: float) -> bytes:
        """Return the bytes due up to ``t``."""
        if self._start is None or (self.ended and self._again):
            self._start, self._next = t, 0
        due = (t - self._start) * self._speed
        sent = []
        while not self.ended and self._chunks[self._next][0] <= due:
            sent.append(self._chunks[self._next][1])
            self._next += 1
        return b"".join(sent)

    def receive(self, data: bytes, t: float) -> bytes:
        """Take what is sent; the answers of then come at their times."""
        return b""
