"""What the gauge sees of a unit's gas up to its release goes on record by itself."""

from datetime import date

from benchstation.bench.capture.releasing import Releasing
from benchstation.bench.capture.tracing import trace_of
from benchstation.bench.session import BenchSession
from benchstation.devices.instrument import Sample
from benchstation.domain import gas_release
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import GasFell, GasFound
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step, StepKind


class ReleaseWatch:
    """Follows the gauge from the moment a unit is opened until its release is signed."""

    def __init__(self) -> None:
        self._key: tuple[str, int] | None = None
        self._releasing: Releasing | None = None

    def take(self, sample: Sample) -> None:
        """Take one reading of the gauge."""
        if self._releasing is not None:
            self._releasing.take(sample)

    def interrupt(self) -> None:
        """Begin again after a gap in the gauge's readings."""
        if self._releasing is not None:
            self._releasing.interrupt()

    def move_on(self, session: BenchSession) -> None:
        """Put on record what was seen, once."""
        rebuild = session.rebuild
        step = rebuild.current if rebuild is not None else None
        if rebuild is None or step is None or not _before_release(rebuild):
            self._key = self._releasing = None
            return
        key = (rebuild.unit_id, len(rebuild.reopened))
        if key != self._key or self._releasing is None:
            self._key = key
            self._releasing = Releasing(rebuild.specification.gas.release_zero_band)
        if session.to_write:
            return  # what was found before waits for the disk
        if rebuild.gas_found is None:
            self._found(session, rebuild, step, self._releasing)
        elif rebuild.gas_fell is None:
            self._fell(session, rebuild, step, self._releasing)

    def _found(
        self, session: BenchSession, rebuild: Rebuild, step: Step, releasing: Releasing
    ) -> None:
        shown_pa = releasing.found_pa()
        if shown_pa is None:
            return
        gauge, dead = session.gauge.registered, session.shop.fill_tool_m3
        before_pa, volume = gas_release.before_joining_gauge_pa(
            rebuild.specification, shown_pa, dead, session.air()
        )
        until = gauge.calibrated_until
        overdue = not until or date.fromisoformat(until) < session.today
        found = GasFound(
            rebuild.unit_id,
            step.id,
            gauge.instrument_id,
            calibration_of(gauge),
            overdue,
            shown_pa,
            before_pa,
            volume,
            dead,
            session.conditions(rebuild),
        )
        session.keep([found], ())

    def _fell(
        self, session: BenchSession, rebuild: Rebuild, step: Step, releasing: Releasing
    ) -> None:
        fall = releasing.fall()
        if fall is None:
            return
        trace = trace_of(
            session.clock, *releasing.trace(), name="gauge_pa", unit="Pa", note="release"
        )
        fell = GasFell(
            rebuild.unit_id,
            step.id,
            session.gauge.registered.instrument_id,
            fall.from_gauge_pa,
            fall.to_gauge_pa,
            rebuild.specification.gas.release_zero_band,
            fall.seconds,
            trace.sha256,
        )
        session.keep([fell], [trace])


def _before_release(rebuild: Rebuild) -> bool:
    return rebuild.specification.step_of(StepKind.RELEASE).id not in rebuild.signatures
