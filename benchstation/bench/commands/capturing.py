"""Asking for a tare, a capture or a hold test: what was asked for happens with the readings."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchstation.bench.air_locks import air_locked
from benchstation.bench.capture import oil
from benchstation.bench.capture.next_step import AGAIN
from benchstation.bench.capture.weighing import Weighing
from benchstation.bench.locks import capture_locked, require_no_pressure
from benchstation.bench.messages import Message, Severity, attention_if
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.bench.tare_loss import lose_tare
from benchstation.domain import unit_commands as commands
from benchstation.domain import unweighed
from benchstation.domain.given_up import weighed_again
from benchstation.domain.guard import AlarmKind
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import NotAllowedError, require_step

EMPTIED = "emptied"
"""The form that asks whether oil which no mass holds was undone."""


def _weighing(session: BenchSession) -> Weighing:
    if session.work.weighing is None:
        raise NotAllowedError("nothing is weighed at this step.")
    return session.work.weighing


@dataclass(frozen=True, slots=True)
class Tare(Command):
    """Ask for a tare: it is sent when the scale rests, and proven when it stands at zero."""

    roles = WORKERS
    form: Mapping[str, str] = field(default_factory=dict)

    def __call__(self, session: BenchSession) -> Message:
        require_step(session.unit(), StepKind.WEIGH, StepKind.BLEED)
        weighing = _weighing(session)
        if session.scale.good_value(session.clock.seconds()) is None:
            raise NotAllowedError(
                "the scale gives no valid reading.",
                where=session.scale.registered.title,
                advice="Check its cable and its line on the Instruments page.",
            )
        if weighing.moved_kg and not weighing.gives_up(session.clock.seconds()):
            about = session.words.rough_mass(weighing.moved_kg)
            said = f"Not tared: about {about} are not captured. Capture, or tare again to give up."
            return Message(said, Severity.ATTENTION)
        if weighing.tared:
            lose_tare(session, Statement(Code.TARED_AGAIN))
        plan, step = weighing.plan, commands.going_step(session.unit())
        if plan.again:
            session.journal(weighed_again(session.unit(), step.id, plan.purpose, plan.lot))
        rebuild, asked = session.unit(), session.work.open_form == EMPTIED
        if rebuild.unweighed and not asked:
            session.work.show_form(EMPTIED)
            about = session.words.rough_mass(weighing.uncaptured_kg)
            what = f"About {about} were" if weighing.uncaptured else "Oil may be"
            said = f"Not tared. {what} not captured: undo that first, and confirm it."
            return Message(said, Severity.ATTENTION)
        person = session.person.person_id if session.person else ""
        emptied = unweighed.confirmed(rebuild, self.form, person)
        session.work.close_form()
        weighing.begin_tare(session.clock.seconds(), emptied)
        return Message("Taring: hands off until the scale is steady.")


@dataclass(frozen=True, slots=True)
class Capture(Command):
    """Ask for a capture: it happens by itself when the reading is steady or settled."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED, StepKind.CHARGE)
        locked = capture_locked(session)
        # Asking says that the valve is shut, which may be all that such an alarm waits for.
        if locked and locked != AlarmKind.FROZEN.value:
            raise NotAllowedError(
                f"capture is locked: {locked}.",
                where=step.title,
                advice="Put that right first; nothing was captured.",
            )
        if step.kind is StepKind.CHARGE:
            session.work.want_charge()
            return Message("Captures as soon as the charge has settled.")
        weighing = _weighing(session)
        if not weighing.tared:
            raise NotAllowedError(
                "the tare is not proven.", where=step.title, advice="Tare first, then pour."
            )
        if weighing.jumped_from_kg is not None:
            raise NotAllowedError(
                "something was put on the scale or lifted off it.",
                where=step.title,
                advice="Put everything back as it was, or tare again.",
            )
        weighing.begin_capture()
        return Message("Captures as soon as the scale is steady.")


@dataclass(frozen=True, slots=True)
class Cancel(Command):
    """Take back what was asked for and has not happened."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        session.work.stop()
        return Message("Stopped: nothing was captured.")


@dataclass(frozen=True, slots=True)
class NothingBled(Command):
    """Judge the net oil when none was tipped out."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        require_step(rebuild, StepKind.BLEED)
        step = rebuild.specification.step_of(StepKind.BLEED)
        require_no_pressure(session, step.title)
        if session.work.weighing is not None and session.work.weighing.uncaptured:
            about = session.words.rough_mass(session.work.weighing.uncaptured_kg)
            raise NotAllowedError(
                f"about {about} were bled and are not captured.",
                where=step.title,
                advice=f"{AGAIN} Then bleed it again, and capture it.",
            )
        parts = rebuild.counting
        judged = oil.judged(rebuild, step, parts, session.shop.lots, session.scale, session.air())
        session.journal(commands.nothing_bled(rebuild, judged))
        said = f"Net oil {session.words.mass(judged.net_shown_kg)}: {judged.decision}."
        return Message(said, attention_if(judged.decision != commands.PASS))


def moved_since_captured(session: BenchSession) -> str:
    """Return why a hold test would hold another pressure than was captured; empty: it would not."""
    charge = session.rebuild.charge if session.rebuild else None
    # A gauge that a typed charge was not read on may be off; it is compared with itself alone.
    if session.rebuild is None or charge is None or charge.by_hand:
        return ""
    gauge_pa = session.gauge.good_value(session.clock.seconds())
    moved = abs((gauge_pa or 0.0) - charge.gauge_pa) > session.rebuild.specification.gas.tolerance
    if moved:
        return "the pressure is not what was captured any more"
    left = session.work.charging is not None and session.work.charging.left_captured
    return "the pressure left what was captured, or nobody saw what it did" if left else ""


@dataclass(frozen=True, slots=True)
class HoldTest(Command):
    """Start the hold test of the captured charge."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        step = require_step(rebuild, StepKind.CHARGE)
        if rebuild.charge is None or session.work.charging is None:
            raise NotAllowedError(
                "there is no captured charge.",
                where=step.title,
                advice="Capture the settled charge first.",
            )
        moved = moved_since_captured(session)
        if moved:
            raise NotAllowedError(
                f"{moved}.",
                where=step.title,
                advice="Let it settle. Capture the charge again. Then start the hold test.",
            )
        locked = air_locked(session, rebuild, step)
        if locked:
            raise NotAllowedError(
                f"the hold test is locked: {locked}.",
                where=step.title,
                advice="Type what you read (A), or a lead accepts a deviation.",
            )
        # The cooling that is left is that of now, not of when somebody last looked.
        session.work.charging.settling(session.clock.seconds())
        session.work.charging.begin_hold(rebuild.specification.gas.hold_time)
        session.work.want_hold()
        return Message("Hold test runs: leave valve and unit alone.")
