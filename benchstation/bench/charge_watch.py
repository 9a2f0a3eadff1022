"""What a charge rests on besides its reading goes on record: the gauge rose, and fell at the end.

A gauge that hangs, or another one, shows the same pressure. So the one that the charge is read on
must have passed readings in between while gas went in, and at the seal-off go from the charge to
zero under the station's eyes. What happens in a gap of its readings was not seen.
"""

from collections import deque

import numpy as np

from benchstation.bench.capture.tracing import trace_of
from benchstation.bench.session import BenchSession
from benchstation.devices.instrument import Sample
from benchstation.domain.events import GasRose, LineFell
from benchstation.domain.gas_release import stands_at_pa
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step, StepKind

LEAST_LEVELS, LEVEL = 4, 1.1
"""A rise is seen by so many readings, each a tenth higher than the one before: no jump has them."""
ROSE_TO = 0.25
"""Share of the target that a rise must reach."""
ZERO_S = 1.0
MOST_SAMPLES = 36_000


class ChargeWatch:
    """Follows the gauge from the charge until the seal-off is signed."""

    def __init__(self) -> None:
        self._samples: deque[tuple[float, float]] = deque(maxlen=MOST_SAMPLES)
        self._levels: list[float] = []
        self._band = 0.0
        self._about: tuple[float, float] | None = None
        self._stood: tuple[float, float] | None = None
        self._zero_since: float | None = None
        self._beyond = False
        """It showed more than the charge since, or less than nothing: so it shows what is not."""

    def take(self, sample: Sample) -> None:
        """Take one reading of the gauge."""
        at, value = sample.at, sample.value
        self._samples.append((at, value))
        if value <= self._band:
            self._levels.clear()
        elif not self._levels or value > LEVEL * self._levels[-1]:
            self._levels.append(value)
        self._take_at_the_line(at, value)

    def _take_at_the_line(self, at: float, value: float) -> None:
        if self._about is None:
            return
        charged, tolerance = self._about
        self._beyond |= value > charged + tolerance or value < -self._band
        if abs(value - charged) <= tolerance:
            self._stood, self._zero_since = (at, value), None
        elif abs(value) > self._band:
            self._zero_since = None
        elif self._zero_since is None:
            self._zero_since = at

    def interrupt(self) -> None:
        """Begin again after a gap in the gauge's readings."""
        self._samples.clear()
        self._levels.clear()
        self._stood = self._zero_since = None

    def move_on(self, session: BenchSession) -> None:
        """Put on record what was seen, once."""
        rebuild = session.rebuild
        step = rebuild.current if rebuild is not None else None
        if rebuild is None or step is None:
            self._about = None
            return
        self._band = rebuild.specification.gas.release_zero_band
        self._follow(rebuild, step)
        if session.to_write:
            return  # what was found before waits for the disk
        if step.kind is StepKind.CHARGE:
            self._rose(session, rebuild, step)
        elif self._about is not None and rebuild.line_fell is None:
            self._fell(session, rebuild, step)

    def _follow(self, rebuild: Rebuild, step: Step) -> None:
        """Look for the line's fall between the signed charge and the signed seal-off."""
        seal, charge, hold = rebuild.specification.seal_off, rebuild.charge, rebuild.hold
        charged = rebuild.specification.step_of(StepKind.CHARGE).id in rebuild.signatures
        if charge is None or seal is None or not charged or seal.id in rebuild.signatures:
            self._about = self._stood = self._zero_since = None
            self._beyond = False
            return
        new = self._about is None
        self._about = stands_at_pa(charge, hold), rebuild.specification.gas.tolerance
        for at, value in [row for row in self._samples if new]:
            # A quick hand vents before the next reading.
            if at >= self._samples[-1][0] - ZERO_S:
                self._take_at_the_line(at, value)

    def _rose(self, session: BenchSession, rebuild: Rebuild, step: Step) -> None:
        gauge, work = session.gauge.registered.instrument_id, session.work
        zero, rose, levels = rebuild.zero_before, rebuild.gas_rose, self._levels
        if work.charge_target is None or zero is None or zero.instrument_id != gauge:
            return
        if rose is not None and rose.instrument_id == gauge:
            return
        high = bool(levels) and levels[-1] >= ROSE_TO * work.charge_target.target_gauge_pa
        if high and len(levels) >= LEAST_LEVELS:
            session.keep([GasRose(rebuild.unit_id, step.id, gauge, levels[0], levels[-1])], ())

    def _fell(self, session: BenchSession, rebuild: Rebuild, step: Step) -> None:
        stood, zero, gauge = self._stood, self._zero_since, session.gauge.registered.instrument_id
        if stood is None or zero is None or self._beyond or self._samples[-1][0] - zero < ZERO_S:
            return
        if rebuild.charge is None or rebuild.charge.instrument_id != gauge:
            return
        rows = np.array([row for row in self._samples if row[0] >= stood[0] - ZERO_S])
        trace = trace_of(
            session.clock, rows[:, 0], rows[:, 1], name="gauge_pa", unit="Pa", note="line"
        )
        fell = LineFell(
            rebuild.unit_id,
            step.id,
            gauge,
            stood[1],
            self._samples[-1][1],
            self._band,
            zero - stood[0],
            trace.sha256,
            {name: pa for name, pa in session.work.ticks.items() if pa is not None},
        )
        session.keep([fell], [trace])
