"""One reader thread per instrument: it owns the line, feeds the driver, and never dies silently."""

import logging
import math
import queue
import threading
import time
from collections.abc import Callable

from benchstation.driver_api.contract import Driver
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.reading import Fault, FaultKind, Item, Reading
from benchstation.link.ports import LinkError
from benchstation.link.raw_log import Direction, RawLog
from benchstation.link.statistics import LinkMeter, LinkState, LinkStatistics
from benchstation.link.transport import READ_WAIT_S, Levels, Transport

log = logging.getLogger(__name__)
FIRST_BACK_OFF_S = 0.1
LONGEST_BACK_OFF_S = 1.0
ANSWER_WAIT_S = 0.5
NO_MATCH_AFTER_S = 3.0
STALLED_S = 1.0
BACKLOG_S = 0.1
SHOWN_BYTES = 24
_UNREADABLE = (FaultKind.BAD_FRAME, FaultKind.BAD_CHECKSUM, FaultKind.NO_ANSWER)


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
        self.thread = threading.Thread(target=self._run, name=f"reader {name}", daemon=True)
        self._state = LinkState.SEARCHING
        self._meter = LinkMeter()
        self._readings = self._faults = self._bytes = self._connects = self._unanswered = 0
        self._last_error = ""
        self._transport: Transport | None = None
        # Further channels of a line come with the first: its rate is that of one of them.
        self._channel = driver.channels[0].name if driver.channels else ""
        self._asked: float | None = None
        self._polled = -math.inf
        self._matched = 0.0
        self._unmatched = b""
        self._silence_told = False
        self._looked = 0.0
        self._deaf_until = -math.inf

    def start(self) -> None:
        """Start reading."""
        self.thread.start()

    def stop(self, timeout: float = 2.0) -> None:
        """Stop and wait; raises ``TimeoutError`` when the thread does not end."""
        self._stop.set()
        if self.thread.ident is None:
            return
        self.thread.join(timeout)
        if self.thread.is_alive():
            raise TimeoutError(f"the reader of {self.name} does not end")

    def send(self, command: str) -> None:
        """Send a command of the device soon; raises when it has none of that name, or is away."""
        data = self._driver.command(command)
        if self._state not in (LinkState.SILENT, LinkState.LIVE):
            raise LinkError(
                "the instrument is not connected; nothing was sent.",
                where=self.name,
                advice="Wait until it is back, or use the key on the instrument.",
            )
        self._commands.put(data)

    def set_levels(self, levels: Levels) -> None:
        """Set the port's output lines now, in the caller's thread; raises when it is not open."""
        transport = self._transport
        if transport is None:
            raise LinkError(
                "the instrument's port is not open.", where=self.name, advice="It is tried again."
            )
        transport.set_levels(levels)

    @property
    def state(self) -> LinkState:
        """Return where the line stands."""
        return self._state

    @property
    def statistics(self) -> LinkStatistics:
        """Return the counts since the start, and how the line does now."""
        counts = self._driver.counts
        counted = LinkStatistics(
            readings=self._readings,
            faults=self._faults,
            received_bytes=self._bytes,
            connects=self._connects,
            last_error=self._last_error,
            rejected=counts.rejected,
            discarded_bytes=counts.discarded_bytes,
            unanswered=self._unanswered,
        )
        return self._meter.added_to(counted, time.perf_counter())

    def _run(self) -> None:
        try:
            self._search()
        except Exception as error:  # a bug of ours must be seen, not end a thread unseen
            log.exception("the reader of %s failed", self.name)
            self._last_error = repr(error)
            words = f"a fault in this program stopped the reader: {error!r}"
            try:
                self._enter(LinkState.FAILED, words)
            except Exception:
                log.exception("nobody could be told that the reader of %s failed", self.name)

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
                self._serve(transport)
                if self._readings > before:
                    back_off = FIRST_BACK_OFF_S
            self._stop.wait(back_off)
            back_off = min(back_off * 2, LONGEST_BACK_OFF_S)

    def _begin(self) -> None:
        self._driver.reset()
        self._meter.begin()
        self._asked = None
        self._polled = -math.inf
        self._matched = self._looked = time.perf_counter()
        self._deaf_until = -math.inf
        self._unmatched = b""
        self._silence_told = False
        # A command given before the line was lost is not one for now.
        while not self._commands.empty():
            self._commands.get_nowait()

    def _serve(self, transport: Transport) -> None:
        """Read until the line is lost. Errors of the line end it; errors of ours go up."""
        self._transport = transport
        try:
            self._begin()
            self._enter(LinkState.SILENT, "connected, no reading yet")
            while not self._stop.is_set():
                self._judge_answer()
                command, request = self._command_due(), None
                if command is None:
                    request = self._request_due()
                try:
                    if command is not None:
                        self._send(transport, command)
                    elif request is not None:
                        self._send(transport, request)
                        self._asked = self._polled = time.perf_counter()
                    data = transport.read()
                except Exception as error:  # noqa: BLE001 - see what a lost port can raise
                    self._lost(f"the line was lost and is tried again: {error}")
                    return
                if not self._is_backlog() and data:
                    self._received(data)
                self._judge_silence()
        finally:
            self._transport = None
            self._meter.end(time.perf_counter())
            try:
                transport.close()
            except Exception as error:  # noqa: BLE001 - a lost port may not even close
                log.debug("closing %s: %r", self.name, error)

    def _judge_answer(self) -> None:
        if self._asked is None or time.perf_counter() - self._asked < ANSWER_WAIT_S:
            return
        self._asked = None
        self._unanswered += 1
        self._driver.reset()
        self._item(Fault(FaultKind.NO_ANSWER, self._clock(), b"", "no answer in time"))

    def _command_due(self) -> bytes | None:
        """Return the next command; one that would talk into an answer waits."""
        if self._asked is not None or self._commands.empty():
            return None
        return self._commands.get_nowait()

    def _request_due(self) -> bytes | None:
        if self._asked is not None:
            return None
        left = self._polled + self._poll_wall_s - time.perf_counter()
        if left > READ_WAIT_S:
            return None  # the read waits as well, and sees a lost line
        if left > 0.0:
            self._stop.wait(left)
        return self._driver.poll()

    def _send(self, transport: Transport, data: bytes) -> None:
        transport.write(data)
        self.raw_log.add(self._clock(), Direction.SENT, data)

    def _is_backlog(self) -> bool:
        """Return True when what was read waited while this program did not run: nobody can date it.

        A stopped process or a machine that slept finds the past in the system's buffers; dated now
        it would be an old pressure that passes for the present one.
        """
        before, self._looked = self._looked, time.perf_counter()
        if (stalled := self._looked - before) > STALLED_S:
            log.warning("%s: not read for %.1f s; what waited is left out", self.name, stalled)
            self._deaf_until = self._looked + BACKLOG_S
            self._driver.reset()
        return self._looked < self._deaf_until

    def _received(self, data: bytes) -> None:
        at, read = self._clock(), time.perf_counter()
        self._bytes += len(data)
        self.raw_log.add(at, Direction.RECEIVED, data)
        self._unmatched = (self._unmatched + data)[-SHOWN_BYTES:]
        items = self._driver.feed(data, at)
        if items and self._asked is not None:
            self._meter.answered(read - self._asked)
            self._asked = None
        for item in items:
            self._item(item)
        values = [i.value for i in items if isinstance(i, Reading) and i.channel == self._channel]
        self._meter.arrived(read, values, time.perf_counter() - read)

    def _item(self, item: Item) -> None:
        if isinstance(item, Reading):
            self._readings += 1
        elif isinstance(item, Fault):
            self._faults += 1
        if not isinstance(item, Fault) or item.kind not in _UNREADABLE:
            self._matched = time.perf_counter()
            self._unmatched = b""
            self._silence_told = False
            if self._state is not LinkState.LIVE:
                self._enter(LinkState.LIVE, "")
        self._on_item(item)

    def _judge_silence(self) -> None:
        if self._silence_told or time.perf_counter() - self._matched < NO_MATCH_AFTER_S:
            return
        self._silence_told = True
        words = (
            f"bytes come but never a whole frame (last: {self._unmatched!r}); check the profile "
            "and the line settings"
            if self._unmatched
            else "connected, but the instrument sends nothing; check its cable and settings"
        )
        log.warning("%s: %s", self.name, words)
        self._enter(LinkState.SILENT, words)

    def _lost(self, why: str) -> None:
        away = self._state is LinkState.LOST
        told = away and why == self._last_error
        self._last_error = why
        if not told:
            # A loss is one line in the log; why it lasts may change and is told on screen.
            log.log(logging.DEBUG if away else logging.WARNING, "%s: %s", self.name, why)
            self._enter(LinkState.LOST, why)

    def _enter(self, state: LinkState, words: str) -> None:
        if state is LinkState.LIVE:
            log.info("%s is live", self.name)
        self._state = state
        self._on_state(state, words)
