"""A line between a program and a server that is cut when so many bytes went over it."""

import contextlib
import socket
import threading
from collections.abc import Iterator


class CuttingProxy:
    """Passes bytes on in both directions until its allowance is used up; then it cuts.

    ``allow`` gives the next connection so many bytes, counted both ways; ``None`` is without end.
    Without an allowance left a connection is refused as a dead server refuses it.
    """

    def __init__(self, port: int) -> None:
        self._target = port
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listener.getsockname()[1]
        self._lock = threading.Lock()
        self._allowance: int | None = None
        self._held = False
        self._pairs: list[tuple[socket.socket, socket.socket]] = []
        self._threads: list[threading.Thread] = []
        self.cuts = 0
        self.passed = 0
        self._accepting = self._spawn(self._accept)

    def allow(self, count: int | None) -> None:
        """Let so many bytes more through."""
        with self._lock:
            self._allowance = count

    def cut(self) -> None:
        """Cut every line now."""
        with self._lock:
            pairs, self._pairs = self._pairs, []
            self.cuts += 1
        for pair in pairs:
            for end in pair:
                _shut(end)

    def hold(self, held: bool) -> None:
        """Pass nothing on and close nothing, as a network does that swallows packets."""
        self._held = held

    def close(self) -> None:
        """Cut, and listen no more."""
        self._held = False
        _shut(self._listener)
        self.cut()
        for thread in self._threads:
            thread.join(5.0)

    def _spawn(self, target, *given) -> threading.Thread:
        thread = threading.Thread(target=target, args=given, name="cutting proxy", daemon=True)
        self._threads = [t for t in self._threads if t.is_alive()] + [thread]
        thread.start()
        return thread

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            try:
                if self._allowance == 0:
                    raise ConnectionRefusedError
                far = socket.create_connection(("127.0.0.1", self._target), 5.0)
                far.settimeout(None)
            except OSError:
                _shut(near)
                continue
            with self._lock:
                self._pairs.append((near, far))
            self._spawn(self._pass, near, far)
            self._spawn(self._pass, far, near)

    def _pass(self, one: socket.socket, other: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := one.recv(65536):
                while self._held:
                    threading.Event().wait(0.01)
                some, last = self._allowed(data)
                try:
                    other.sendall(some)
                finally:
                    if last:
                        self.cut()
        _shut(one)
        _shut(other)

    def _allowed(self, data: bytes) -> tuple[bytes, bool]:
        with self._lock:
            self.passed += len(data)
            if self._allowance is None:
                return data, False
            some = data[: self._allowance]
            self._allowance -= len(some)
            return some, self._allowance == 0


def _shut(end: socket.socket) -> None:
    with contextlib.suppress(OSError):
        end.shutdown(socket.SHUT_RDWR)
    end.close()


@contextlib.contextmanager
def cutting_proxy(port: int) -> Iterator[CuttingProxy]:
    """Return a proxy to a port of this computer."""
    proxy = CuttingProxy(port)
    try:
        yield proxy
    finally:
        proxy.close()
