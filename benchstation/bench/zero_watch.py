"""The gauge's zero in the open line, seen just before gas is let in, goes on record by itself."""

from collections import deque

from benchstation.bench.session import BenchSession
from benchstation.devices.instrument import Sample
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import GaugeZero
from benchstation.domain.specification import StepKind

OVER_S, FRESH_S = 1.0, 5.0
"""A zero is the mean over a second; one from longer ago may be another by now."""


class ZeroWatch:
    """Follows the gauge; the zero is put on record at the charge."""

    def __init__(self) -> None:
        self._recent: deque[tuple[float, float]] = deque()
        self._zero: tuple[float, float] | None = None
        self._band = 0.0

    def take(self, sample: Sample) -> None:
        """Take one reading of the gauge."""
        if abs(sample.value) > self._band:
            self._recent.clear()
            if sample.value < 0.0:
                # Below the band is no gas: the zero that was seen is not this gauge's any more.
                self._zero = None
            return
        self._recent.append((sample.at, sample.value))
        if sample.at - self._recent[0][0] < OVER_S:
            return
        self._zero = sample.at, sum(v for _, v in self._recent) / len(self._recent)
        while sample.at - self._recent[0][0] >= OVER_S:
            self._recent.popleft()

    def interrupt(self) -> None:
        """Begin again after a gap in the gauge's readings."""
        self._recent.clear()
        self._zero = None

    def move_on(self, session: BenchSession) -> None:
        """Put the zero on record once the charge is at hand."""
        rebuild = session.rebuild
        step = rebuild.current if rebuild is not None else None
        if rebuild is None or step is None:
            return
        self._band = rebuild.specification.gas.release_zero_band
        # While what was found waits for the disk, nothing is added to it.
        if step.kind is not StepKind.CHARGE or rebuild.zero_before is not None or session.to_write:
            return
        if self._zero is None or session.clock.seconds() - self._zero[0] > FRESH_S:
            return
        gauge = session.gauge.registered
        zero = GaugeZero(
            rebuild.unit_id,
            step.id,
            gauge.instrument_id,
            calibration_of(gauge),
            self._zero[1],
            self._band,
        )
        session.keep([zero], ())
