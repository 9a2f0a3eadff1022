"""Open a port or a network address and move bytes. The only place that names pySerial."""

import errno
import select
import socket
from dataclasses import dataclass
from typing import Any, Protocol
from urllib.parse import urlsplit

import serial

from benchstation.driver_api.contract import LineSettings
from benchstation.link.open_errors import waited_for_a_server, worded
from benchstation.link.ports import LinkError, resolve
from benchstation.link.recording import REPLAY, open_replay

READ_WAIT_S = 0.1
"""Longest wait of a read: it is what lets the reader see that it shall stop."""
CONNECT_WAIT_S = 1.5
"""Longest wait for a network address, so that a stop does not wait for it in vain."""
CHUNK = 4096
TELNET_COMMAND = b"\xff"
"""How each word of a device server about the line itself begins (RFC 854, IAC)."""


@dataclass(frozen=True, slots=True)
class Levels:
    """How the output lines of a port stand: energised, or not; ``None`` leaves one alone."""

    rts: bool | None = None
    dtr: bool | None = None


class Transport(Protocol):
    """Bytes in and out."""

    def read(self) -> bytes:
        """Return what has come, after at most ``READ_WAIT_S``; empty when nothing has."""

    def write(self, data: bytes) -> None:
        """Send bytes."""

    def set_levels(self, levels: Levels) -> None:
        """Set the output lines; raises where there are none."""

    def discard(self) -> None:
        """Throw away what has come, without waiting; raises when the line is gone."""

    def close(self) -> None:
        """Close the line."""


class SerialTransport:
    """A serial port, or any other pySerial URL."""

    def __init__(self, port: Any) -> None:
        self._port = port

    def read(self) -> bytes:
        """Return what has come."""
        data: bytes = self._port.read(max(1, self._port.in_waiting))
        return data

    def write(self, data: bytes) -> None:
        """Send bytes."""
        self._port.write(data)

    def set_levels(self, levels: Levels) -> None:
        """Set RTS and DTR; raises :class:`LinkError` where the port has none."""
        try:
            _set_levels(self._port, levels)
        except OSError as error:
            if error.errno not in (errno.ENOTTY, errno.EINVAL):
                raise
            raise LinkError(
                "this port has no lines RTS and DTR.",
                where=str(self._port.port),
                advice="Take a port that has them, or a lamp that takes commands.",
                detail=repr(error),
            ) from error

    def discard(self) -> None:
        """Throw away what has come."""
        waiting = self._port.in_waiting
        if waiting:
            self._port.read(waiting)

    def close(self) -> None:
        """Close the port."""
        self._port.close()


class SocketTransport:
    """A TCP address. pySerial's own reads it byte by byte and loses the last bytes at the end."""

    def __init__(self, connection: socket.socket) -> None:
        self._socket = connection

    def read(self) -> bytes:
        """Return what has come; raises ``ConnectionError`` when the other end is gone."""
        ready, _, _ = select.select([self._socket], [], [], READ_WAIT_S)
        if not ready:
            return b""
        data = self._socket.recv(CHUNK)
        if not data:
            raise ConnectionError("the other end closed the connection")
        return data

    def write(self, data: bytes) -> None:
        """Send bytes."""
        self._socket.sendall(data)

    def set_levels(self, levels: Levels) -> None:
        """Raise :class:`LinkError`: a network address has no such lines."""
        raise no_levels()

    def discard(self) -> None:
        """Throw away what has come; raises ``ConnectionError`` when the other end is gone."""
        if select.select([self._socket], [], [], 0.0)[0] and not self._socket.recv(CHUNK):
            raise ConnectionError("the other end closed the connection")

    def close(self) -> None:
        """Close the connection."""
        self._socket.close()


def no_levels() -> LinkError:
    """Return the error of a line that is no serial port."""
    return LinkError(
        "this is no serial port: it has no lines RTS and DTR.",
        advice="Take a serial port, or a lamp that takes commands.",
    )


def _set_levels(port: Any, levels: Levels) -> None:
    if levels.rts is not None:
        port.rts = levels.rts
    if levels.dtr is not None:
        port.dtr = levels.dtr


def open_transport(url: str, line: LineSettings, levels: Levels | None = None) -> Transport:
    """Open a port for this program alone. Raises :class:`LinkError` in words.

    With ``levels`` the lines RTS and DTR of a serial port stand so from its opening on, but for
    the moment in which some systems raise both; without, both are energised.

    ``url`` is a port's name, path or identity (see ``ports``), ``replay:PATH``, ``socket://``,
    ``rfc2217://`` or any other URL that pySerial knows.
    """
    if url.startswith(REPLAY):
        return open_replay(url, READ_WAIT_S)
    name = resolve(url)
    try:
        if url.startswith(("socket://", "rfc2217://")):
            _require_address(url)
        if url.startswith("socket://"):
            return _open_socket(url)
        port = serial.serial_for_url(
            name,
            do_not_open=True,
            baudrate=line.baudrate,
            bytesize=line.bytesize,
            parity=line.parity,
            stopbits=line.stopbits,
            timeout=READ_WAIT_S,
            # pySerial's RFC 2217 refuses one; its writes go to a socket with a timeout of its own.
            write_timeout=None if url.startswith("rfc2217://") else 1.0,
        )
        if "://" not in url:
            port.exclusive = True
        _set_levels(port, levels or Levels())
        port.open()
    except Exception as error:  # pySerial lets termios.error and others through as well
        if url.startswith("rfc2217://") and waited_for_a_server(error) and _hangs_up(url):
            raise worded(url, ConnectionResetError(errno.ECONNRESET, str(error))) from error
        raise worded(url, error) from error
    return SerialTransport(port)


def _require_address(url: str) -> None:
    parts = urlsplit(url)
    if not parts.hostname or parts.port is None:
        raise ValueError(f"an address looks like {parts.scheme}://HOST:PORT")


def _hangs_up(url: str) -> bool:
    """Return whether a device server, not somebody who speaks plainly, closes the line again.

    pySerial waits for answers on a line that was closed as on one where nobody understands it.
    """
    parts = urlsplit(url)
    try:
        with socket.create_connection((parts.hostname, parts.port), CONNECT_WAIT_S) as connection:
            first = connection.recv(CHUNK)
            if first and not first.startswith(TELNET_COMMAND):
                return False
            while connection.recv(CHUNK):
                pass
    except ConnectionResetError:
        return True
    except OSError:  # It waits, or is not there any more.
        return False
    return True


def _open_socket(url: str) -> SocketTransport:
    parts = urlsplit(url)
    connection = socket.create_connection((parts.hostname, parts.port), CONNECT_WAIT_S)
    connection.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    connection.settimeout(1.0)
    return SocketTransport(connection)
