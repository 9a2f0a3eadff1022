"""Cut a byte stream into frames, with a length cap and resynchronisation; checksums.

Every framer has ``push(data) -> list[bytes]`` (the frames that became complete, delimiters
included), ``clear()``, ``pending`` (bytes held, never more than the cap) and ``discarded`` (bytes
that were part of no frame). What comes out does not depend on how the stream was chunked.
"""

from collections.abc import Callable
from typing import Protocol

DEFAULT_CAP = 256
"""Longest frame kept, bytes; the longest serial Modbus frame is as long."""


class Framer(Protocol):
    """What the framers here have in common."""

    discarded: int

    def push(self, data: bytes) -> list[bytes]:
        """Take received bytes, give the complete frames."""

    def clear(self) -> None:
        """Forget what is half received."""

    @property
    def pending(self) -> int:
        """Return the bytes held back for the next call."""


class LineFramer:
    """Lines that end in ``terminator``, split at its last byte.

    The bytes before the last one are left for the caller to check, so a damaged ``CR`` of a
    ``CR LF`` costs one line and not two. A line longer than ``cap`` is discarded whole.
    """

    def __init__(self, terminator: bytes = b"\r\n", cap: int = DEFAULT_CAP) -> None:
        if not terminator or cap < len(terminator):
            raise ValueError("a line needs a terminator that fits under the cap")
        self.discarded = 0
        self._end = terminator[-1:]
        self._cap = cap
        self._rest = b""
        self._skipping = False

    @property
    def pending(self) -> int:
        """Return the bytes of the line not yet ended."""
        return len(self._rest)

    def clear(self) -> None:
        """Forget the line not yet ended."""
        self.discarded += len(self._rest)
        self._rest = b""
        self._skipping = False

    def push(self, data: bytes) -> list[bytes]:
        """Return the lines that ended in ``data``, each with its terminator."""
        end = self._end
        *lines, rest = (self._rest + data).split(end)
        self._rest = rest
        frames = [line + end for line in lines]
        if frames and self._skipping:
            self.discarded += len(frames.pop(0))
            self._skipping = False
        if any(len(frame) > self._cap for frame in frames):
            self.discarded += sum(len(frame) for frame in frames if len(frame) > self._cap)
            frames = [frame for frame in frames if len(frame) <= self._cap]
        # A rest of exactly the cap is too long as well: its terminator is still to come.
        if self._skipping or len(rest) >= self._cap:
            self.discarded += len(rest)
            self._rest = b""
            self._skipping = True
        return frames


class DelimitedFramer:
    """Frames from a ``start`` byte to an ``end`` byte; a second start begins anew.

    ``tail`` bytes after the end belong to the frame as well, whatever they are: check characters.
    A frame longer than ``cap``, its tail left out, is discarded.
    """

    def __init__(
        self, start: bytes = b"\x02", end: bytes = b"\x03", cap: int = DEFAULT_CAP, tail: int = 0
    ) -> None:
        if len(start) != 1 or len(end) != 1 or start == end or cap < 2 or tail < 0:
            raise ValueError("start and end are two different single bytes")
        self.discarded = 0
        self._start = start
        self._end = end
        self._cap = cap
        self._tail = tail
        self._rest = b""

    @property
    def pending(self) -> int:
        """Return the bytes of the frame not yet complete."""
        return len(self._rest)

    def clear(self) -> None:
        """Forget the frame not yet complete."""
        self.discarded += len(self._rest)
        self._rest = b""

    def push(self, data: bytes) -> list[bytes]:
        """Return the frames that became complete in ``data``, with delimiters and tail."""
        buffer = self._rest + data
        frames: list[bytes] = []
        at = 0
        while (end := buffer.find(self._end, at)) >= 0:
            begin = buffer.rfind(self._start, at, end)
            after = end + 1
            if begin < 0 or after - begin > self._cap:
                self.discarded += after - at
                at = after
                continue
            self.discarded += begin - at
            at = begin
            if after + self._tail > len(buffer):
                break
            at = after + self._tail
            frames.append(buffer[begin:at])
        else:
            begin = buffer.rfind(self._start, at)
            if begin < 0 or len(buffer) - begin >= self._cap:
                begin = len(buffer)
            self.discarded += begin - at
            at = begin
        self._rest = buffer[at:]
        return frames


class FixedFramer:
    """Frames of ``length`` bytes without a terminator.

    ``accept`` says whether so many bytes are a frame; where they are not, the framer moves on by
    one byte and tries again, so it finds its place in a running stream. ``accept`` has to be strict
    enough that no shifted piece of two frames passes.
    """

    def __init__(self, length: int, accept: Callable[[bytes], object]) -> None:
        if length < 1:
            raise ValueError("a frame has at least one byte")
        self.discarded = 0
        self._length = length
        self._accept = accept
        self._rest = b""

    @property
    def pending(self) -> int:
        """Return the bytes held, fewer than one frame."""
        return len(self._rest)

    def clear(self) -> None:
        """Forget the bytes held."""
        self.discarded += len(self._rest)
        self._rest = b""

    def push(self, data: bytes) -> list[bytes]:
        """Return the frames found."""
        buffer = self._rest + data
        length = self._length
        frames = []
        at = 0
        while at + length <= len(buffer):
            candidate = buffer[at : at + length]
            if self._accept(candidate):
                frames.append(candidate)
                at += length
            else:
                self.discarded += 1
                at += 1
        self._rest = buffer[at:]
        return frames


def xor8(data: bytes) -> int:
    """Return the exclusive-or of all bytes, 0 to 255 (longitudinal redundancy check, ISO 1155)."""
    result = 0
    for byte in data:
        result ^= byte
    return result


def sum8(data: bytes) -> int:
    """Return the sum of all bytes modulo 256."""
    return sum(data) & 0xFF


def complement8(data: bytes) -> int:
    """Return what makes the sum of all bytes zero modulo 256.

    The longitudinal redundancy check of MODBUS over Serial Line V1.02, 6.2.1.
    """
    return -sum(data) & 0xFF


def crc16_ccitt(data: bytes) -> int:
    """Return the CRC-16 of ITU-T V.41: polynomial 0x1021, start value zero, high bit first.

    The check value of ``123456789`` is 0x31C3.
    """
    crc = 0
    for byte in data:
        crc ^= byte << 8
        for _ in range(8):
            crc = (crc << 1) ^ 0x1021 if crc & 0x8000 else crc << 1
        crc &= 0xFFFF
    return crc


def crc16(data: bytes) -> int:
    """Return the CRC-16 of the MODBUS over Serial Line specification V1.02, 6.2.2.

    Polynomial 0x8005 reflected (0xA001), start value 0xFFFF, no final exclusive-or; the low byte
    goes first on the wire. The check value of ``123456789`` is 0x4B37.
    """
    crc = 0xFFFF
    for byte in data:
        crc = (crc >> 8) ^ _CRC16_TABLE[(crc ^ byte) & 0xFF]
    return crc


def _crc16_table() -> tuple[int, ...]:
    table = []
    for byte in range(256):
        crc = byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
        table.append(crc)
    return tuple(table)


_CRC16_TABLE = _crc16_table()

CHECKSUMS: dict[str, tuple[Callable[[bytes], int], int]] = {
    "xor": (xor8, 1),
    "sum": (sum8, 1),
    "complement": (complement8, 1),
    "crc16": (crc16, 2),
    "crc16-ccitt": (crc16_ccitt, 2),
}
"""Checksum functions by name, each with its width in bytes."""
