"""One reader thread per instrument: it owns the line, feeds the driver, and never dies silently."""

import logging
import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from benchstation.driver_api.contract import Driver
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.reading import Fault, FaultKind, Item, Reading
from benchstation.link.raw_log import Direction, RawLog
from benchstation.link.transport import Transport

log = logging.getLogger(__name__)
FIRST_BACK_OFF_S = 0.1
LONGEST_BACK_OFF_S = 1.0
ANSWER_WAIT_S = 0.5
NO_MATCH_AFTER_S = 3.0


class LinkState(StrEnum):
    """Where a line stands."""

    SEARCHING = "searching"
    SILENT = "silent"
    LIVE = "live"
    LOST = "lost"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class LinkStatistics:
    """Counts since the start, and why the line was last lost."""

    readings: int = 0
    faults: int = 0
    received_bytes: int = 0
    connects: int = 0
    last_error: str = ""


class Reader:
    """Reads one line. ``on_item`` and ``on_state`` are called in the reader's thread.

    ``clock`` dates what arrives and may run faster than the wall (``pace``); real waits are on the
    wall. A request-and-reply driver is polled every ``poll_interval_s`` of the clock.
    """

    def __init__(
        self,
        name: str,
        driver: Driver,
        connect: Callable[[], Transport],
        *,
        clock: Callable[[], float],
        on_item: Callable[[Item], None],
        on_state: Callable[[LinkState, str], None],
        poll_interval_s: float = 0.1,
        pace: float = 1.0,
        raw_log: RawLog | None = None,
    ) -> None:
        self.name = name
        self.raw_log = raw_log or RawLog()
        self._driver = driver
        self._connect = connect
        self._clock = clock
        self._on_item = on_item
        self._on_state = on_state
        self._poll_wall_s = poll_interval_s / pace
        self._commands: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"reader {name}", daemon=True)
        self._state = LinkState.SEARCHING
        self._readings = self._faults = self._bytes = self._connects = 0
        self._last_error = ""
        self._last_reading_wall = 0.0

    def start(self) -> None:
        """Start reading."""
        self._thread.start()

    def stop(self, timeout: float = 2.0) -> None:
        """Stop and wait; raises ``TimeoutError`` when the thread does not end."""
        self._stop.set()
        if self._thread.ident is None:
            return
        self._thread.join(timeout)
        if self._thread.is_alive():
            raise TimeoutError(f"the reader of {self.name} does not end")

    def send(self, command: str) -> None:
        """Send a command of the device soon; raises when the device has none of that name."""
        self._commands.put(self._driver.command(command))

    @property
    def state(self) -> LinkState:
        """Where the line stands."""
        return self._state

    @property
    def statistics(self) -> LinkStatistics:
        """Counts since the start."""
        return LinkStatistics(
            self._readings, self._faults, self._bytes, self._connects, self._last_error
        )

    def _run(self) -> None:
        try:
            self._search()
        except Exception as error:  # a bug of ours must be seen, not end a thread unseen
            log.exception("the reader of %s failed", self.name)
            self._last_error = repr(error)
            self._enter(LinkState.FAILED, f"a fault in this program stopped the reader: {error!r}")

    def _search(self) -> None:
        back_off = FIRST_BACK_OFF_S
        while not self._stop.is_set():
            try:
                transport = self._connect()
            except StationError as error:
                self._lost(str(error))
            else:
                self._connects += 1
                before = self._readings
                self._driver.reset()
                self._enter(LinkState.SILENT, "connected, no reading yet")
                self._serve(transport)
                if self._readings > before:
                    back_off = FIRST_BACK_OFF_S
            self._stop.wait(back_off)
            back_off = min(back_off * 2, LONGEST_BACK_OFF_S)

    def _serve(self, transport: Transport) -> None:
        """Read until the line is lost. Errors of the line end it; errors of ours go up."""
        self._last_reading_wall = time.perf_counter()
        polled = asked = 0.0
        try:
            while not self._stop.is_set():
                try:
                    wall = time.perf_counter()
                    asked_now = self._write_due(transport, wall, polled, asked)
                    if asked_now:
                        polled, asked = wall, wall
                    data = transport.read()
                except Exception as error:  # noqa: BLE001 - see what a lost port can raise
                    self._lost(f"the line was lost: {error}")
                    return
                if data and self._received(data):
                    asked = 0.0
                self._judge_silence(asked)
        finally:
            try:
                transport.close()
            except Exception as error:  # noqa: BLE001 - a lost port may not even close
                log.debug("closing %s: %r", self.name, error)

    def _write_due(self, transport: Transport, wall: float, polled: float, asked: float) -> bool:
        while True:
            try:
                command = self._commands.get_nowait()
            except queue.Empty:
                break
            self._send(transport, command)
        request = self._driver.poll()
        waits = asked and wall - asked < ANSWER_WAIT_S
        if request is None or waits:
            return False
        if asked:
            self._driver.reset()
            self._item(Fault(FaultKind.NO_ANSWER, self._clock(), b"", "no answer in time"))
        left = self._poll_wall_s - (wall - polled)
        if left > 0:
            self._stop.wait(min(left, 0.05))
            if left > 0.05:
                return False
        self._send(transport, request)
        return True

    def _send(self, transport: Transport, data: bytes) -> None:
        transport.write(data)
        self.raw_log.add(self._clock(), Direction.SENT, data)

    def _received(self, data: bytes) -> bool:
        at = self._clock()
        self._bytes += len(data)
        self.raw_log.add(at, Direction.RECEIVED, data)
        items = self._driver.feed(data, at)
        for item in items:
            self._item(item)
        return bool(items)

    def _item(self, item: Item) -> None:
        if isinstance(item, Reading):
            self._readings += 1
            self._last_reading_wall = time.perf_counter()
            if self._state is not LinkState.LIVE:
                self._enter(LinkState.LIVE, "")
        elif isinstance(item, Fault):
            self._faults += 1
        self._on_item(item)

    def _judge_silence(self, asked: float) -> None:
        silent_s = time.perf_counter() - self._last_reading_wall
        if silent_s < NO_MATCH_AFTER_S or self._state is LinkState.SILENT:
            return
        tail = self.raw_log.tail(24)
        words = (
            f"bytes come but never a whole frame (last: {tail!r}); check the profile and the "
            "line settings"
            if tail
            else "connected, but the device says nothing; check its cable and settings"
        )
        self._enter(LinkState.SILENT, words)

    def _lost(self, why: str) -> None:
        self._last_error = why
        if self._state is not LinkState.LOST:
            log.warning("%s: %s", self.name, why)
            self._enter(LinkState.LOST, why)

    def _enter(self, state: LinkState, words: str) -> None:
        if state is LinkState.LIVE and self._state in (LinkState.LOST, LinkState.SILENT):
            log.info("%s is live", self.name)
        self._state = state
        self._on_state(state, words)
