"""Weighing the whole unit for the gas in it."""

from dataclasses import dataclass

from benchstation.bench.capture.unit_weighing import UnitWeighing
from benchstation.bench.commands.second_reading import require_air
from benchstation.bench.gas_ticks import gas_out_pa
from benchstation.bench.messages import Message
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.domain.gas_mass import sealed
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.second_reading import require_due
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import require_step


@dataclass(frozen=True, slots=True)
class WeighUnit(Command):
    """Weigh the whole unit, before gas is let in or after it is sealed."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        step = require_step(rebuild)
        after = sealed(rebuild)
        if not after and step.kind is not StepKind.CHARGE:
            raise NotAllowedError("the unit is weighed at the charge and after the seal-off.")
        if not after and (rebuild.charge is not None or gas_out_pa(session) is None):
            raise NotAllowedError(
                "the unit is weighed before gas is let in, and the gauge does not show zero.",
                where=step.title,
                advice="Vent it first.",
            )
        if after and step.kind is StepKind.SECOND:
            require_air(session, rebuild, step)
            if rebuild.unit_after is not None:
                require_due(rebuild, session.clock.utc())
        unfit = session.scale.unfit(session.today)
        if unfit:
            raise NotAllowedError(f"{unfit}.", where=step.title)
        gap = session.scale.instrument.stale_after_s
        session.work.weigh_unit(UnitWeighing(rebuild.specification.steadiness, gap))
        return Message("Empty the scale; then put the whole unit on, with all that stays on it.")
