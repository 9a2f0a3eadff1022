"""A line that several readers of this program hear: what comes is given to each of them.

For devices that put several values into one line. What is sent goes out as it is, so it is for
devices that are not asked, or are asked by one of them only.
"""

import threading
from collections.abc import Callable

from benchstation.link.transport import Levels, Transport

_lines: dict[str, "_Line"] = {}
_lines_lock = threading.Lock()


class _Line:
    """One open port and what each of its readers has still to take."""

    def __init__(self, transport: Transport) -> None:
        self.transport = transport
        self.lock = threading.Lock()
        self.waiting: dict[int, bytes] = {}
        self.lost: Exception | None = None


class SharedTransport:
    """One reader's end of a shared line."""

    def __init__(self, url: str, line: _Line) -> None:
        self._url, self._line = url, line
        self._closed = False
        line.waiting[id(self)] = b""

    def read(self) -> bytes:
        """Return what has come; raises what any of the readers met, for the line is lost to all."""
        line = self._line
        with line.lock:
            if line.lost is not None:
                raise line.lost
            data = line.waiting[id(self)]
            line.waiting[id(self)] = b""
            if data:
                return data
            try:
                data = line.transport.read()
            except Exception as error:
                line.lost = error
                raise
            for other in line.waiting:
                if other != id(self):
                    line.waiting[other] = (line.waiting[other] + data)[-MOST_WAITING:]
            return data

    def write(self, data: bytes) -> None:
        """Send bytes."""
        self._line.transport.write(data)

    def set_levels(self, levels: Levels) -> None:
        """Set the output lines."""
        self._line.transport.set_levels(levels)

    def discard(self) -> None:
        """Throw away what has come for this reader."""
        while self.read():
            pass

    def close(self) -> None:
        """Leave the line; the last to leave closes it."""
        with _lines_lock:
            if self._closed:
                return
            self._closed = True
            self._line.waiting.pop(id(self), None)
            if self._line.waiting and self._line.lost is None:
                return
            if _lines.get(self._url) is self._line:
                del _lines[self._url]
            if self._line.waiting:
                return
        self._line.transport.close()


MOST_WAITING = 65_536
"""Bytes kept for a reader that does not read."""


def join_line(url: str, open_line: Callable[[], Transport]) -> Transport:
    """Return an end of the line at ``url``, which is opened where nobody has it yet."""
    with _lines_lock:
        line = _lines.get(url)
        if line is None or line.lost is not None:
            line = _lines[url] = _Line(open_line())
        return SharedTransport(url, line)
