"""Letting a sealed unit wait, and reading its pressure again."""

from dataclasses import dataclass

from benchstation.bench.air_locks import air_locked
from benchstation.bench.capture.pressure_again import AgainPhase, PressureAgain
from benchstation.bench.messages import Message
from benchstation.bench.second_reading import USUAL_STEP_PA
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.domain import second_reading
from benchstation.domain.inputs.second_reading import PRESSURE
from benchstation.domain.pausing import why_not_aside
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import local_time


@dataclass(frozen=True, slots=True)
class LetWait(Command):
    """Take the sealed unit off the bench until its second reading is due."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        events = second_reading.begin_wait(rebuild)
        gauge_pa = session.gauge.good_value(session.clock.seconds())
        why_not = why_not_aside(rebuild, gauge_pa, session.display)
        if why_not:
            raise NotAllowedError(
                f"{why_not}.",
                where=rebuild.opened.serial,
                advice="Close the gas screw, vent the line and take the gauge off it.",
            )
        step = rebuild.current
        due = second_reading.due(rebuild, step) if step is not None else None
        assert due is not None
        session.work.stop()
        session.journal(events)
        session.on_bench.take(None)
        serial = rebuild.opened.serial
        return Message(
            f"{serial} waits for its second reading, from {local_time(due)} on. "
            "It is charged: label it; the queue has it."
        )


def require_air(session: BenchSession, rebuild: Rebuild, step: Step) -> None:
    """Raise while the air that a reading rests on is not read, or was read too long ago."""
    locked = air_locked(session, rebuild, step)
    if locked:
        raise NotAllowedError(f"{locked}.", where=step.title, advice="Read the air: press A.")


@dataclass(frozen=True, slots=True)
class ReadAgain(Command):
    """Read the pressure of the unit that waited: the gauge at its zero, then on the unit."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        step = second_reading.require_due(rebuild, session.clock.utc())
        asked = second_reading.asked_at(step)
        if asked is None or PRESSURE not in asked.by:
            raise NotAllowedError("this unit is not read again by its pressure.", where=step.title)
        require_air(session, rebuild, step)
        unfit = session.gauge.unfit(session.today)
        if unfit:
            raise NotAllowedError(f"{unfit}.", where=step.title)
        gauge = session.gauge
        session.work.read_pressure_again(
            PressureAgain(
                rebuild.specification.gas.release_zero_band,
                gauge.resolution(USUAL_STEP_PA),
                gauge.instrument.stale_after_s,
            )
        )
        return Message(f"{AgainPhase.ZERO[:1].upper()}{AgainPhase.ZERO[1:]}.")
