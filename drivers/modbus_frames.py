"""Requests and answers of Modbus as frames: over a serial line (RTU) and over TCP.

Frames are those of MODBUS over Serial Line V1.02 (CRC, 6.2.2) and of MODBUS Messaging on TCP/IP
V1.0b (header, 3.1.3); building and checking them is the work of the ``pymodbus`` framers, used
without its client. What begins no answer of this device to this request is discarded and counted.
"""

from dataclasses import dataclass
from typing import Protocol

from pymodbus.framer.rtu import FramerRTU
from pymodbus.framer.socket import FramerSocket
from pymodbus.pdu import DecodePDU
from pymodbus.pdu.register_message import (
    ReadHoldingRegistersRequest,
    ReadInputRegistersRequest,
)

HIGHEST_SERIAL_DEVICE, HIGHEST_TCP_DEVICE = 247, 255
_RTU_EXCEPTION_LENGTH = 5
_TCP_HEADER_LENGTH = 6


@dataclass(frozen=True, slots=True)
class Span:
    """What is read with every request: ``count`` registers of a device from ``first`` on."""

    device: int
    function: int
    first: int
    count: int

    @property
    def request_class(self) -> type[ReadHoldingRegistersRequest | ReadInputRegistersRequest]:
        """Function 3 reads holding registers, 4 input registers."""
        return ReadHoldingRegistersRequest if self.function == 3 else ReadInputRegistersRequest

    @property
    def answer_head(self) -> bytes:
        """Device, function and byte count of an answer."""
        return bytes((self.device, self.function, 2 * self.count))

    @property
    def exception_head(self) -> bytes:
        """Device and function of an exception."""
        return bytes((self.device, self.function | 0x80))


class Frames(Protocol):
    """What both lines have in common."""

    discarded: int
    """Bytes that belonged to no answer."""

    def request(self) -> bytes:
        """Return the next request."""

    def take(self, data: bytes) -> list[tuple[bytes, bytes]]:
        """Return whole frames, each with its message; an empty message for a wrong check."""

    def clear(self) -> None:
        """Forget half an answer."""


class RtuFrames:
    """Frames that are known by their head and length and proven by a CRC."""

    def __init__(self, span: Span) -> None:
        self.discarded = 0
        self._framer = FramerRTU(DecodePDU(is_server=False))
        self._request = self._framer.buildFrame(
            span.request_class(address=span.first, count=span.count, dev_id=span.device)
        )
        self._device = span.device
        self._head, self._exception_head = span.answer_head, span.exception_head
        self._length = len(self._head) + 2 * span.count + 2
        self._buffer = b""

    def request(self) -> bytes:
        """Return the request, always the same."""
        return self._request

    def clear(self) -> None:
        """Forget half an answer."""
        self.discarded += len(self._buffer)
        self._buffer = b""

    def take(self, data: bytes) -> list[tuple[bytes, bytes]]:
        """Return whole frames, each with its message; an empty message for a wrong CRC."""
        buffer = self._buffer + data
        found: list[tuple[bytes, bytes]] = []
        while (place := self._find_head(buffer)) is not None:
            start, length = place
            self.discarded += start
            buffer = buffer[start:]
            if len(buffer) < length:
                break
            frame = buffer[:length]
            _, _, _, message = self._framer.decode(frame)
            # Damage may have made this head: a good answer can begin inside the rejected bytes.
            buffer = buffer[length if message else 1 :]
            found.append((frame, message))
        else:
            self.discarded += len(buffer)
            buffer = b""
        self._buffer = buffer
        return found

    def _find_head(self, buffer: bytes) -> tuple[int, int] | None:
        """Return where an answer begins or may begin, and its length."""
        start = buffer.find(self._device)
        while start >= 0:
            rest = buffer[start : start + 3]
            if rest[:2] == self._exception_head:
                return start, _RTU_EXCEPTION_LENGTH
            if self._head.startswith(rest) or self._exception_head.startswith(rest):
                return start, self._length
            start = buffer.find(self._device, start + 1)
        return None


class TcpFrames:
    """Frames that are known by their header; TCP itself guards the bytes.

    Every request has the next transaction number, and an answer to an earlier one is discarded: it
    is a value of the past. Before the first request any number is taken.
    """

    def __init__(self, span: Span) -> None:
        self.discarded = 0
        self._span = span
        self._framer = FramerSocket(DecodePDU(is_server=False))
        self._transaction = 0
        answer, exception = span.answer_head, span.exception_head
        # Protocol zero, then the length of all that follows the length.
        self._answer = b"\0\0" + (len(answer) + 2 * span.count).to_bytes(2, "big") + answer
        self._exception = b"\0\0" + (len(exception) + 1).to_bytes(2, "big") + exception
        self._buffer = b""

    def request(self) -> bytes:
        """Return a request with the next transaction number."""
        self._transaction = self._transaction % 0xFFFF + 1
        span = self._span
        message = span.request_class(address=span.first, count=span.count, dev_id=span.device)
        message.transaction_id = self._transaction
        return self._framer.buildFrame(message)

    def clear(self) -> None:
        """Forget half an answer."""
        self.discarded += len(self._buffer)
        self._buffer = b""

    def take(self, data: bytes) -> list[tuple[bytes, bytes]]:
        """Return whole answers to the last request, each with its message."""
        buffer = self._buffer + data
        found: list[tuple[bytes, bytes]] = []
        at = 0
        while at < len(buffer):
            start, length = self._find(buffer, at)
            self.discarded += start - at
            at = start
            frame = buffer[at : at + length]
            if not frame or len(frame) < length:
                break
            at += length
            _, _, transaction, message = self._framer.decode(frame)
            if self._transaction in (0, transaction):
                found.append((frame, message))
            else:
                self.discarded += length
        self._buffer = buffer[at:]
        return found

    def _find(self, buffer: bytes, at: int) -> tuple[int, int]:
        """Return where the next answer begins or may begin, and its length; the end where none."""
        places = [(len(buffer), 0)]
        for head in (self._answer, self._exception):
            length = _TCP_HEADER_LENGTH + int.from_bytes(head[2:4], "big")
            found = buffer.find(head, at + 2)
            if found >= 0:
                places.append((found - 2, length))
            # A head that is not yet whole can only stand at the end.
            for start in range(max(at, len(buffer) - 1 - len(head)), len(buffer)):
                if head.startswith(buffer[start + 2 :]):
                    places.append((start, length))
                    break
        return min(places)
