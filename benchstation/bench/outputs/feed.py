"""A reading feed for other programs on this machine: JSON lines on a local TCP port, read only.

Who reads an instrument or judges the guard only leaves what happened in a bounded queue; one
thread makes the lines and hands them out. What clients send is thrown away, a client that reads
too slowly loses its oldest lines, and neither holds a reader up. Off unless a port is set.
"""

import contextlib
import json
import logging
import math
import os
import selectors
import socket
import threading
import time
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from benchstation.bench.capture.tracing import utc_of
from benchstation.clock import Clock
from benchstation.devices.instrument import HealthReport, Instrument, Sample
from benchstation.domain.guard import GuardSnapshot, Transition
from benchstation.driver_api.reading import Fault

log = logging.getLogger(__name__)
FORM = "benchstation-feed/1"
TICK_S = 0.05
HEALTH_EVERY_S = 0.5
MOST_CLIENTS = 4
MOST_LINES = 500
MOST_WAITING = 4096
MOST_SENT_BYTES = SEND_BUFFER = 65_536
STUCK_S = 30.0
"""A client that takes nothing for so long is let go, so that its place is free."""
AGAIN_S = 5.0
STOP_WITHIN_S = 2.0
SI_UNITS = {"mass": "kg", "pressure": "Pa", "temperature": "K", "humidity": "1"}


@dataclass(frozen=True, slots=True)
class Source:
    """An instrument whose readings are told, with its name in the records."""

    instrument: Instrument
    instrument_id: str


@dataclass(slots=True)
class _Client:
    socket: socket.socket
    lines: deque[bytes] = field(default_factory=lambda: deque(maxlen=MOST_LINES))
    rest: bytes = b""
    lost: int = 0
    sent_bytes: int = 0
    took: float = field(default_factory=time.monotonic)

    def queue(self, line: bytes) -> None:
        """Keep a line for this client; the oldest goes when there are too many."""
        self.lost += len(self.lines) == MOST_LINES
        self.lines.append(line)

    def next(self) -> bytes:
        """Return the next line, with the number of those lost before it."""
        line = self.lines.popleft()
        if self.lost:
            line = b'%s,"lost":%d}\n' % (line[:-2], self.lost)
            self.lost = 0
        return line


class Feed:
    """Tells every reading, fault, change of health and change of the guard to local clients."""

    def __init__(self, port: int, bench: str, clock: Clock, sources: tuple[Source, ...]) -> None:
        self.port = port
        self.problem = ""
        self._bench = bench
        self._clock = clock
        self.sources: dict[str, Source] = {}
        self.waiting: deque[tuple[str, Sample | Fault | Transition]] = deque(maxlen=MOST_WAITING)
        self._health: dict[str, tuple[Source, HealthReport]] = {}
        self._seen: GuardSnapshot | None = None
        self.clients: list[_Client] = []
        self.listeners: list[socket.socket] = []
        self._selector = selectors.DefaultSelector()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="reading feed", daemon=True)
        for source in sources:
            self.follow(source)

    def follow(self, source: Source, instead_of: str = "") -> None:
        """Tell of this instrument from now on, and no longer of the one of that id."""
        name = source.instrument_id
        # Another dictionary each time: the feed's thread goes through them meanwhile.
        others = {k: v for k, v in self.sources.items() if k != instead_of}
        self._health = {k: v for k, v in self._health.items() if k != instead_of}
        self.sources = {**others, name: source}
        source.instrument.taps.append(self._tap(name))

    def _tap(self, name: str) -> Callable[[Sample | Fault], None]:
        # An append to a bounded deque is all that a reader's thread does here.
        return lambda item: self.waiting.append((name, item))

    def tell(self, seen: GuardSnapshot, changes: tuple[Transition, ...]) -> None:
        """Take note of changes of the guard: called where it is judged, returns at once."""
        self._seen = seen
        self.waiting.extend(("", change) for change in changes)

    def start(self) -> None:
        """Start listening."""
        self._thread.start()

    def close(self) -> None:
        """Disconnect all clients; raises ``TimeoutError`` when the thread does not end."""
        self._stop.set()
        if self._thread.ident is not None:
            self._thread.join(STOP_WITHIN_S)
            if self._thread.is_alive():
                raise TimeoutError("the reading feed does not end")

    # --- the feed's thread -----------------------------------------------------------------------

    def _run(self) -> None:
        try:
            while not self._stop.is_set():
                try:
                    self._listen()
                    self._serve()
                except OSError as error:
                    self._trouble(f"port {self.port} cannot be opened ({error.strerror or error})")
                except Exception as error:  # a bug of ours must be seen, and costs no reading
                    log.exception("the reading feed failed")
                    self._trouble(f"a fault in this program: {error!r}")
                finally:
                    self._let_all_go()
                self._stop.wait(AGAIN_S)
        finally:
            self._selector.close()

    def _trouble(self, words: str) -> None:
        if words != self.problem:
            log.warning("the reading feed is not there: %s", words)
        self.problem = words

    def _listen(self) -> None:
        self.listeners.append(_listener(socket.AF_INET, "127.0.0.1", self.port))
        # A machine without IPv6 still has the other address.
        with contextlib.suppress(OSError):
            self.listeners.append(_listener(socket.AF_INET6, "::1", self.port))
        for listener in self.listeners:
            self._selector.register(listener, selectors.EVENT_READ)
        self.problem = ""

    def _serve(self) -> None:
        looked = -math.inf
        # The wait comes first: a client that sends without end costs one look a tick.
        while not self._stop.wait(TICK_S):
            for key, _ in self._selector.select(0.0):
                if key.data is not None:
                    self._hear(key.data)
            for listener in self.listeners:
                self._accept(listener)
            self._tell_new()
            if time.monotonic() - looked > HEALTH_EVERY_S:
                looked = time.monotonic()
                self._tell_health()
            for client in list(self.clients):
                self._hand_out(client)

    def _accept(self, listener: socket.socket) -> None:
        with contextlib.suppress(OSError):
            connection, _ = listener.accept()
            if len(self.clients) >= MOST_CLIENTS:
                connection.close()
                return
            connection.setblocking(False)
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SEND_BUFFER)
            client = _Client(connection)
            self.clients.append(client)
            self._selector.register(connection, selectors.EVENT_READ, client)
            client.queue(self._hello())
            for source, report in self._health.values():
                client.queue(self._health_line(source, report))

    def _hear(self, client: _Client) -> None:
        """Throw away what a client says; one that is gone, or never stops, is let go."""
        try:
            data = client.socket.recv(4096)
        except BlockingIOError:
            return
        except OSError:
            data = b""
        client.sent_bytes += len(data)
        if not data or client.sent_bytes > MOST_SENT_BYTES:
            self._let_go(client)

    def _tell_new(self) -> None:
        for _ in range(len(self.waiting)):
            name, item = self.waiting.popleft()
            line = self._item_line(name, item) if self.clients else b""
            for client in self.clients if line else ():
                client.queue(line)

    def _tell_health(self) -> None:
        now = self._clock.seconds()
        before = self._health
        self._health = {
            name: (source, source.instrument.health(now)) for name, source in self.sources.items()
        }
        for name, (source, report) in self._health.items():
            # Its reason counts seconds; a new line is for a new category only.
            if name not in before or before[name][1].category is not report.category:
                for client in self.clients:
                    client.queue(self._health_line(source, report))

    def _hand_out(self, client: _Client) -> None:
        try:
            while client.rest or client.lines:
                data = client.rest or client.next()
                taken = client.socket.send(data)
                client.rest = data[taken:]
                client.took = time.monotonic()
        except BlockingIOError:
            client.rest = data
            if time.monotonic() - client.took > STUCK_S:
                self._let_go(client)
        except OSError:
            self._let_go(client)

    def _let_go(self, client: _Client) -> None:
        self.clients.remove(client)
        self._selector.unregister(client.socket)
        client.socket.close()

    def _let_all_go(self) -> None:
        for client in list(self.clients):
            self._let_go(client)
        for listener in self.listeners:
            self._selector.unregister(listener)
            listener.close()
        self.listeners.clear()

    # --- lines -----------------------------------------------------------------------------------

    def _line(self, kind: str, at: float, **values: Any) -> bytes:
        stamp = utc_of(self._clock, at).isoformat(timespec="microseconds")
        body = {"kind": kind, "time": stamp.replace("+00:00", "Z"), **values}
        return json.dumps(body, separators=(",", ":"), allow_nan=False).encode("ascii") + b"\n"

    def _hello(self) -> bytes:
        seen = self._seen
        alarms = [
            {"alarm": alarm.kind.value, "episode": alarm.episode, "state": alarm.state.value}
            for alarm in (seen.alarms if seen else ())
        ]
        return self._line(
            "hello", self._clock.seconds(), form=FORM, bench=self._bench, alarms=alarms
        )

    def _item_line(self, name: str, item: Sample | Fault | Transition) -> bytes:
        """Return a line, or nothing where the instrument is no longer followed."""
        if isinstance(item, Transition):
            return self._line("guard", item.at, **_guard_values(item))
        source = self.sources.get(name)
        if source is None:
            return b""
        who = {"role": source.instrument.role, "instrument": name}
        health = source.instrument.health(self._clock.seconds()).category.value
        if isinstance(item, Fault):
            return self._line("fault", item.at, **who, fault=item.kind.value, health=health)
        if not math.isfinite(item.value):
            return self._line("fault", item.at, **who, fault="no finite number", health=health)
        return self._line(
            "reading",
            item.at,
            **who,
            value=item.value,
            unit=SI_UNITS[source.instrument.profile.kind],
            reference=_reference(source.instrument),
            stable=item.stable,
            health=health,
        )

    def _health_line(self, source: Source, report: HealthReport) -> bytes:
        return self._line(
            "health",
            self._clock.seconds(),
            role=source.instrument.role,
            instrument=source.instrument_id,
            health=report.category.value,
            reason=report.reason,
            advice=report.advice,
        )


def _listener(family: socket.AddressFamily, host: str, port: int) -> socket.socket:
    """Listen on a loopback address, which no other machine can reach."""
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if family == socket.AF_INET6:
            listener.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 1)
        listener.setblocking(False)
        listener.bind((host, port))
        listener.listen(MOST_CLIENTS)
    except OSError:
        listener.close()
        raise
    return listener


def _reference(instrument: Instrument) -> str | None:
    """Return ``gauge`` or ``absolute`` for a pressure, else ``None``."""
    if instrument.profile.kind != "pressure":
        return None
    return instrument.profile.channel.reference or "gauge"


def _guard_values(change: Transition) -> Mapping[str, Any]:
    """Return a change of the guard; pressures are gauge, and ``None`` where there is none."""

    def finite(value: float | None) -> float | None:
        return value if value is not None and math.isfinite(value) else None

    return {
        "instrument": change.gauge,
        "alarm": change.kind.value,
        "episode": change.episode,
        "state": change.new.value,
        "was": change.old.value,
        "gauge_pa": finite(change.gauge_pa),
        "peak_gauge_pa": finite(change.peak_gauge_pa),
        "threshold_gauge_pa": finite(change.threshold_gauge_pa),
    }
