"""An instrument at the bench: a driver on a line, its calibration and its health."""

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import partial
from math import isfinite, isnan
from typing import Protocol

from benchstation.devices.profile import Profile
from benchstation.devices.reading_range import is_possible, possible_range, reading_range
from benchstation.devices.value_words import value_words
from benchstation.driver_api.errors import DriverError
from benchstation.driver_api.reading import Fault, FaultKind, Health, Item, Reading, Reply
from benchstation.link.ports import LinkError
from benchstation.link.raw_log import Direction, RawLog
from benchstation.link.reader import Reader
from benchstation.link.shared import join_line
from benchstation.link.statistics import LinkState, LinkStatistics
from benchstation.link.transport import Levels, Transport, open_transport

STALE_INTERVALS = 3
LEAST_STALE_S = 0.35
SILENT_INTERVALS = 5
LEAST_SILENT_S = 1.0
QUEUE = 20_000
REJECT_SHARE = 0.2
LEAST_FRAMES = 10
_SPOILT = (FaultKind.BAD_FRAME, FaultKind.BAD_CHECKSUM)


class BreakKind(StrEnum):
    """Why a stream of readings was broken."""

    LINE_LOST = "line lost"
    NO_READING = "no reading"
    UNIT_CHANGED = "unit changed"
    FAULT = "fault"
    CALIBRATED = "another calibration"


@dataclass(frozen=True, slots=True)
class Break:
    """A broken stream: what the device did meanwhile is not known. The rest is by its kind."""

    kind: BreakKind
    detail: str = ""
    """Of a lost line: what the system said, where it said something."""
    seconds: float = 0.0
    before: str = ""
    after: str = ""
    fault: FaultKind | None = None


class Calibration(Protocol):
    """Turns what the device shows into the value."""

    def apply(self, reading: float) -> float:
        """Return the corrected value, SI."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One calibrated reading, SI, with what it was made from."""

    value: float
    at: float
    stable: bool | None
    resolution: float | None
    unit: str
    raw: bytes
    net: bool | None = None
    """Whether the device says that it shows a net weight; ``None``: it does not say."""


@dataclass(frozen=True, slots=True)
class HealthReport:
    """Health in NAMUR NE 107's categories, why, and what to do."""

    category: Health
    reason: str = ""
    advice: str = ""


class Instrument:
    """One device: its readings, its health, and what broke its stream.

    ``taps`` are called in the reader's thread with every :class:`Sample` and fault. ``ingest`` is
    what the reader calls; history made from virtual devices calls it too.
    """

    def __init__(
        self,
        role: str,
        title: str,
        profile: Profile,
        calibration: Calibration,
        *,
        clock: Callable[[], float],
        pace: float = 1.0,
        raw_log: RawLog | None = None,
    ) -> None:
        self.role = role
        self.title = title
        self.profile = profile
        self.interval_s = profile.interval_s
        # Each reading is held against them.
        self._others, self._range = profile.further, possible_range(profile)
        self.taps: list[Callable[[Sample | Fault], None]] = []
        self.changes = 0
        """Counts all that changed what there is to show: readings, faults, states of the line."""
        self.raw_log = raw_log or RawLog()
        self._clock = clock
        self._pace = pace
        self._calibration = calibration
        self.reader: Reader | None = None
        self._levels = Levels()
        self._send: Callable[[str], None] = self._no_line
        self._lock = threading.Lock()
        self._queue: deque[Sample] = deque(maxlen=QUEUE)
        self._dropped = 0
        self._latest: Sample | None = None
        self._fault: Fault | None = None
        self._broken: Break | None = None
        self._recent: deque[bool] = deque(maxlen=50)
        self._state_words = ""
        self._state = LinkState.SEARCHING

    def connect(self, url: str) -> None:
        """Start reading from a port or URL."""
        rate = self.profile.rate
        self.reader = Reader(
            self.title,
            self.profile.make_driver(),
            self._opener(url),
            clock=self._clock,
            on_item=self.ingest,
            on_state=self._on_state,
            poll_interval_s=1.0 / (rate.poll_hz or rate.expected_hz),
            pace=self._pace,
            raw_log=self.raw_log,
        )
        self._send = self.reader.send
        self.reader.start()

    def _opener(self, url: str) -> Callable[[], Transport]:
        """Return what opens its line: a line of several values may be read by several."""
        settings = self.profile.line_settings

        def opened() -> Transport:
            return open_transport(url, settings, self._levels)

        return partial(join_line, url, opened) if self.profile.further else opened

    def set_levels(self, levels: Levels) -> None:
        """Set the lines RTS and DTR of its port, now and at every opening; raises when it is away.

        No hardware flow control is ever switched on, so the lines are free for it.
        """
        self._levels = levels
        if self.reader is None:
            raise LinkError("the instrument's port is not open.", where=self.title)
        self.reader.set_levels(levels)

    def attach(self, send: Callable[[str], None]) -> None:
        """Send commands by ``send``: for a device that is stepped instead of read."""
        self._send = send

    def stop(self) -> None:
        """Stop reading."""
        if self.reader is not None:
            self.reader.stop()
        self.raw_log.close()

    def ingest(self, item: Item) -> None:
        """Take what the driver made of the bytes; other channels of the line are not its own."""
        if not isinstance(item, Reply) and item.channel in self._others:
            return
        if isinstance(item, Reading) and not self._range[0] <= item.value <= self._range[1]:
            item = self._out_of_range(item)
        if isinstance(item, Reading):
            with self._lock:
                sample = Sample(
                    self._calibration.apply(item.value),
                    item.at,
                    item.stable,
                    item.resolution,
                    item.unit,
                    item.raw,
                    item.net,
                )
                before = self._latest
                if before is not None and item.at - before.at > self.silent_after_s:
                    gap = item.at - before.at
                    self._broken = self._broken or Break(BreakKind.NO_READING, seconds=gap)
                if before is not None and before.unit != item.unit:
                    self._broken = Break(
                        BreakKind.UNIT_CHANGED, before=before.unit, after=item.unit
                    )
                self._latest, self._fault = sample, None
                self._dropped += len(self._queue) == QUEUE
                self._queue.append(sample)
                self._recent.append(True)
                self.changes += 1
            self._tell(sample)
        elif isinstance(item, Fault):
            with self._lock:
                self.changes += 1
                if item.kind in _SPOILT:
                    self._recent.append(False)
                else:
                    self._fault = item
                    self._broken = self._broken or Break(BreakKind.FAULT, fault=item.kind)
            self._tell(item)

    def _out_of_range(self, reading: Reading) -> Fault:
        """Return the fault that a reading is which the device cannot have."""
        above = not reading.value < reading_range(self.profile)[0]
        kind = FaultKind.OVER_RANGE if above else FaultKind.UNDER_RANGE
        if isnan(reading.value):
            kind = FaultKind.DEVICE_ERROR
        end = self.profile.channel.high if above else self.profile.channel.low
        words = partial(value_words, self.profile.kind)
        detail = "It shows what is no number."
        if is_possible(self.profile, reading.value) and end is not None:
            detail = f"It shows {words(reading.value)}, and its range ends at {words(end)}."
        elif isfinite(reading.value):
            detail = "It shows what no instrument of its kind can show: check its profile."
        return Fault(kind, reading.at, reading.raw, detail)

    def _tell(self, item: Sample | Fault) -> None:
        for tap in self.taps:
            tap(item)

    def _on_state(self, state: LinkState, words: str) -> None:
        with self._lock:
            self._state_words = words
            self._state = state
            self.changes += 1
        if state in (LinkState.LOST, LinkState.FAILED):
            self.report_broken(words)

    def report_broken(self, detail: str = "") -> None:
        """Take note that the line was lost: what was proven of its stream no longer holds."""
        with self._lock:
            self._broken = Break(BreakKind.LINE_LOST, detail=detail)
            self.changes += 1

    def recalibrate(self, calibration: Calibration) -> None:
        """Correct what comes from now on by another calibration; the stream counts as broken.

        Readings under two calibrations belong in no one tare, fit or mean.
        """
        with self._lock:
            self._calibration = calibration
            self._queue.clear()
            self._broken = Break(BreakKind.CALIBRATED)
            self.changes += 1

    @property
    def link_state(self) -> LinkState:
        """Return where the line stands."""
        return self.reader.state if self.reader else LinkState.SEARCHING

    @property
    def link_words(self) -> str:
        """Return what there is to say of the line."""
        return self._state_words

    def raw_lines(self, most: int) -> list[tuple[bool, bytes]]:
        """Return the last lines as they went over the wire; ``True``: it was sent."""
        return [(way is Direction.SENT, data) for way, data in self.raw_log.lines(most)]

    @property
    def statistics(self) -> LinkStatistics:
        """Return the counts of the line, and how it does now."""
        found = self.reader.statistics if self.reader else LinkStatistics()
        return replace(found, dropped=self._dropped)

    def latest(self) -> Sample | None:
        """Return the last sample."""
        with self._lock:
            return self._latest

    def drain(self) -> list[Sample]:
        """Return the samples since the last call, oldest first."""
        with self._lock:
            samples = list(self._queue)
            self._queue.clear()
        return samples

    def take_break(self) -> Break | None:
        """Return why the stream was broken since the last call; ``None``: it was not."""
        with self._lock:
            broken, self._broken = self._broken, None
        return broken

    @property
    def stale_after_s(self) -> float:
        """Age beyond which a reading no longer counts."""
        return max(STALE_INTERVALS * self.interval_s, LEAST_STALE_S * self._pace)

    @property
    def silent_after_s(self) -> float:
        """Silence that is a lost signal: what happened to the device meanwhile is not known."""
        return max(LEAST_SILENT_S * self._pace, SILENT_INTERVALS * self.interval_s)

    def health(self, now: float) -> HealthReport:
        """Return the health at ``now``; a missing or old reading is a failure, never fine."""
        with self._lock:
            latest, fault, recent = self._latest, self._fault, list(self._recent)
            words, state = self._state_words, self._state
        if state is LinkState.FAILED:
            return HealthReport(Health.FAILURE, words, "Connect it again; the log has the details.")
        if state is LinkState.LOST:
            return HealthReport(Health.FAILURE, words, "It is tried again by itself.")
        # A device that keeps reporting a fault is on the line: its words, not the cable's.
        if fault is not None and now - fault.at <= self.stale_after_s:
            return HealthReport(Health.FAILURE, str(fault.kind), fault.detail)
        if latest is None:
            words = words or "no reading yet"
            return HealthReport(Health.FAILURE, words, "Check cable, port and profile.")
        age = now - latest.at
        if age < -self.stale_after_s:
            return HealthReport(
                Health.FAILURE, "the clock was set back", "It is over with the next reading."
            )
        if age > self.stale_after_s:
            return HealthReport(
                Health.FAILURE, f"no reading for {age:.1f} s", "Check the cable and the instrument."
            )
        if fault is not None:
            return HealthReport(Health.FAILURE, str(fault.kind), fault.detail)
        if len(recent) >= LEAST_FRAMES and recent.count(False) > REJECT_SHARE * len(recent):
            return HealthReport(
                Health.OUT_OF_SPECIFICATION,
                f"{recent.count(False)} of the last {len(recent)} frames were spoilt",
                "Check cable and line settings.",
            )
        return HealthReport(Health.GOOD)

    def tare(self) -> None:
        """Send the tare command; raises when the device has none."""
        self._send("tare")

    def zero(self) -> None:
        """Send the zero command; raises when the device has none."""
        self._send("zero")

    def _no_line(self, command: str) -> None:
        raise DriverError(
            f"'{command}' cannot be sent: there is no line.",
            where=self.title,
            advice="Connect the instrument first.",
        )
