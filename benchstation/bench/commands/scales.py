"""Choosing another scale than the one that the bench took."""

from dataclasses import dataclass

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.capture.scale_for import candidate, chosen_as, load_at
from benchstation.bench.commands.weighing import at_weighing, begin_anew
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.scale_choice import Against, Why
from benchstation.domain.specification import Step
from benchstation.domain.unit_commands import NotAllowedError

SCALE = "scale"
SAID = {
    Against.NO_READING: "it gives no reading",
    Against.UNFIT: "it is not fit, see the Instruments page",
    Against.TOO_SMALL: "it is not rated for the load",
}


def other_scales(
    session: BenchSession, step: Step, purpose: Purpose
) -> list[tuple[BenchInstrument, Against | None]]:
    """Return the scales that are not weighed on now, each with what is against it."""
    now, today = session.clock.seconds(), session.today
    load = load_at(session.unit(), step, purpose) or 0.0
    return [
        (scale, candidate(scale, now, today).against(load))
        for scale in session.instruments.of(InstrumentRole.SCALE)
        if scale is not session.scale
    ]


@dataclass(frozen=True, slots=True)
class AskOtherScale(Command):
    """Ask for the scale to go on with."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        step, weighing = at_weighing(session)
        others = other_scales(session, step, weighing.plan.purpose)
        if all(against is not None for _, against in others):
            raise NotAllowedError("no other scale fits now.", where=step.title)
        session.work.show_form(SCALE)
        return Message("Choose the scale; tare on it afterwards.")


@dataclass(frozen=True, slots=True)
class UseScale(Command):
    """Weigh on this scale from now on, at this step."""

    roles = WORKERS
    scale: str

    def __call__(self, session: BenchSession) -> Message:
        step, weighing = at_weighing(session)
        purpose = weighing.plan.purpose
        others = {one.id: (one, why) for one, why in other_scales(session, step, purpose)}
        if self.scale not in others:
            raise NotAllowedError("this is not another scale of this bench.", where=step.title)
        scale, against = others[self.scale]
        if against is not None:
            raise NotAllowedError(
                f"{scale.registered.title} is not chosen: {SAID[against]}.",
                where=step.title,
                advice="Choose another, or put that right first.",
            )
        left = {one.id: why for one, why in others.values()}
        load = load_at(session.unit(), step, purpose) or 0.0
        chosen = chosen_as(session.unit(), step, (scale.id, Why.CHOSEN), load, left)
        undo = begin_anew(session, step, weighing, chosen)
        return Message(f"Weighed on {scale.registered.title}.{undo}", attention_if(undo))
