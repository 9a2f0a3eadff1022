"""Serve a virtual device on a pseudo-terminal or a TCP port, by a thread of its own."""

import contextlib
import os
import select
import socket
import threading
from collections.abc import Callable
from typing import Protocol

from sample_devices.thrown_away import ThrownAway

TICK_S = 0.002


class Device(Protocol):
    """What can be served."""

    def output(self, t: float) -> bytes:
        """Return the bytes due up to ``t``."""

    def receive(self, data: bytes, t: float) -> bytes:
        """Take bytes, give the answer."""


class Served(Protocol):
    """A device that can be reached at ``url``."""

    url: str

    def unplug(self) -> None:
        """Pull the plug."""

    def replug(self) -> None:
        """Put it back; the url is the same."""

    def close(self) -> None:
        """End it."""


class _Host:
    def __init__(self, device: Device, clock: Callable[[], float], tick_s: float) -> None:
        self._device = device
        self._clock = clock
        self._tick_s = tick_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="virtual device", daemon=True)

    def _run(self) -> None:
        while not self._stop.wait(self._tick_s):
            t = self._clock()
            out = self._device.output(t)
            asked = self._take()
            if asked:
                out += self._device.receive(asked, t)
            if out:
                self._give(out)

    def _take(self) -> bytes:
        raise NotImplementedError

    def _give(self, data: bytes) -> None:
        raise NotImplementedError

    def _end(self) -> None:
        self._stop.set()
        self._thread.join(2.0)


class PtyHost(_Host):
    """A device behind a pseudo-terminal, found at the same path after a replug."""

    def __init__(self, device: Device, clock: Callable[[], float], tick_s: float = TICK_S) -> None:
        super().__init__(device, clock, tick_s)
        self._folder = ThrownAway("virtual-port-")
        self.url = str(self._folder.path / "port")
        self._lock = threading.Lock()
        self._ends: tuple[int, int] | None = None
        self.replug()
        self._thread.start()

    def replug(self) -> None:
        """Put the plug in."""
        import tty

        master, slave = os.openpty()
        tty.setraw(master)
        tty.setraw(slave)
        os.set_blocking(master, False)
        with self._lock:
            if self._ends is not None:
                os.close(master)
                os.close(slave)
                return
            os.symlink(os.ttyname(slave), self.url)
            self._ends = (master, slave)

    def unplug(self) -> None:
        """Pull the plug: the reader's port is dead and the path is gone."""
        with self._lock:
            if self._ends is None:
                return
            os.unlink(self.url)
            for end in self._ends:
                os.close(end)
            self._ends = None

    def close(self) -> None:
        """End it."""
        self._end()
        self.unplug()
        self._folder.close()

    def _take(self) -> bytes:
        with self._lock, contextlib.suppress(BlockingIOError, OSError):
            if self._ends is not None:
                return os.read(self._ends[0], 4096)
        return b""

    def _give(self, data: bytes) -> None:
        # A full buffer means that nobody reads: a device's bytes are then lost, as on a real line.
        with self._lock, contextlib.suppress(BlockingIOError, OSError):
            if self._ends is not None:
                os.write(self._ends[0], data)


class TcpHost(_Host):
    """A device behind a TCP port on this machine, one caller at a time."""

    def __init__(self, device: Device, clock: Callable[[], float], tick_s: float = TICK_S) -> None:
        super().__init__(device, clock, tick_s)
        self._listener: socket.socket | None = None
        self._caller: socket.socket | None = None
        self._port = 0
        self._lock = threading.Lock()
        self.replug()
        self.url = f"socket://127.0.0.1:{self._port}"
        self._thread.start()

    def replug(self) -> None:
        """Listen."""
        with self._lock:
            if self._listener is not None:
                return
        listener = socket.socket()
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(("127.0.0.1", self._port))
        listener.listen(1)
        with self._lock:
            self._port = listener.getsockname()[1]
            self._listener = listener

    def unplug(self) -> None:
        """Stop listening and drop the caller."""
        with self._lock:
            for end in (self._listener, self._caller):
                if end is not None:
                    end.close()
            self._listener = self._caller = None

    def close(self) -> None:
        """End it."""
        self._end()
        self.unplug()

    def _take(self) -> bytes:
        with self._lock:
            if self._listener is None:
                return b""
            ends = [self._listener, *([self._caller] if self._caller else [])]
            ready, _, _ = select.select(ends, [], [], 0)
            if self._listener in ready:
                if self._caller is not None:
                    self._caller.close()
                self._caller, _ = self._listener.accept()
                self._caller.setblocking(False)
                return b""
            if self._caller in ready and self._caller is not None:
                with contextlib.suppress(BlockingIOError, OSError):
                    data = self._caller.recv(4096)
                    if data:
                        return data
                self._caller.close()
                self._caller = None
        return b""

    def _give(self, data: bytes) -> None:
        with self._lock, contextlib.suppress(BlockingIOError, OSError):
            if self._caller is not None:
                self._caller.sendall(data)


def serve(device: Device, clock: Callable[[], float], tick_s: float = TICK_S) -> Served:
    """Serve on a pseudo-terminal where the system has them, on TCP elsewhere.

    It is looked after every ``tick_s``: a slow device needs no more.
    """
    if hasattr(os, "openpty"):
        return PtyHost(device, clock, tick_s)
    return TcpHost(device, clock, tick_s)
