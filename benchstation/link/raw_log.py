"""Every byte of a line with its time, in a bounded memory; a capture keeps its slice."""

import threading
from collections import deque
from dataclasses import dataclass
from enum import StrEnum

CHUNKS_A_LINE = 4
ENDS = (b"\n", b"\r")


class Direction(StrEnum):
    """Which way bytes went."""

    RECEIVED = "received"
    SENT = "sent"


@dataclass(frozen=True, slots=True)
class RawChunk:
    """Bytes that came or went together; ``at`` in station seconds."""

    at: float
    direction: Direction
    data: bytes


class RawLog:
    """The last ``most_bytes`` bytes of one line. Written by the reader, read by anyone."""

    def __init__(self, most_bytes: int = 262_144) -> None:
        self._most = most_bytes
        self._chunks: deque[RawChunk] = deque()
        self._size = 0
        self._lock = threading.Lock()

    def add(self, at: float, direction: Direction, data: bytes) -> None:
        """Keep bytes; the oldest go when there are too many."""
        data = data[-self._most :]
        with self._lock:
            self._chunks.append(RawChunk(at, direction, data))
            self._size += len(data)
            while self._size > self._most:
                self._size -= len(self._chunks.popleft().data)

    def between(self, start: float, end: float) -> list[RawChunk]:
        """Return the chunks of a time, ends included, oldest first."""
        with self._lock:
            return [chunk for chunk in self._chunks if start <= chunk.at <= end]

    def last(self, count: int) -> list[RawChunk]:
        """Return the last chunks, oldest first."""
        with self._lock:
            return list(self._chunks)[-count:]

    def lines(self, most: int) -> list[tuple[Direction, bytes]]:
        """Return the last lines as they went over the wire, put together from the last chunks."""
        lines: list[tuple[Direction, bytes]] = []
        for chunk in self.last(CHUNKS_A_LINE * most):
            if lines and lines[-1][0] is chunk.direction and not lines[-1][1].endswith(ENDS):
                direction, data = lines.pop()
            else:
                direction, data = chunk.direction, b""
            parts = (data + chunk.data).splitlines(keepends=True)
            lines += [(direction, part) for part in parts]
        return lines[-most:]

    def tail(self, most_bytes: int = 512) -> bytes:
        """Return the last received bytes."""
        with self._lock:
            received = [c.data for c in self._chunks if c.direction is Direction.RECEIVED]
        return b"".join(received)[-most_bytes:]

    def close(self) -> None:
        """End it: there is nothing to close in memory."""
