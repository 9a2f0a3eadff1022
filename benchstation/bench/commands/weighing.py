"""Choosing what is weighed, how and from which lot; nothing here captures."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.bench.capture.oil import main_purpose, other_lots, weighing_for
from benchstation.bench.capture.weighing import Phase, Weighing
from benchstation.bench.commands.capturing import Capture
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.bench.tare_loss import lose_tare
from benchstation.domain.events import MethodChosen, OilLotReceived, ScaleChosen
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.specification import Method, Step, StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import NotAllowedError, require_step

WAYS, LOT = "ways", "lot"


def at_weighing(session: BenchSession) -> tuple[Step, Weighing]:
    """Return the step at hand and its weighing; raises while a capture waits for steady."""
    step = require_step(session.unit(), StepKind.WEIGH, StepKind.BLEED)
    weighing = session.work.weighing
    if weighing is None:
        raise NotAllowedError("nothing is weighed at this step.")
    if weighing.phase is Phase.CAPTURING:
        raise NotAllowedError(
            "a capture waits for steady.", where=step.title, advice="Let it end, or cancel it."
        )
    return step, weighing


def _begin(
    session: BenchSession, step: Step, purpose: Purpose, reason: Statement, *, again: bool = False
) -> str:
    """Begin another weighing; give what must be undone first, after a space, or nothing."""
    undo = lose_tare(session, reason)
    session.work.close_form()
    session.choose_scale(purpose)
    session.work.weigh(weighing_for(session.unit(), step, session.scale, purpose, again))
    return "" if not undo or again else f" {undo}"


def begin_anew(session: BenchSession, step: Step, weighing: Weighing, chosen: ScaleChosen) -> str:
    """Begin the weighing at hand again on a chosen scale; give what must be undone, or nothing."""
    undo = lose_tare(session, Statement(Code.OTHER_SCALE))
    session.weigh_on(chosen)
    plan = weighing.plan
    session.work.weigh(weighing_for(session.unit(), step, session.scale, plan.purpose, plan.again))
    return f" {undo}" if undo else ""


@dataclass(frozen=True, slots=True)
class ShowWays(Command):
    """Show the rarer ways of weighing."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        require_step(session.unit(), StepKind.WEIGH, StepKind.BLEED)
        session.work.show_form(WAYS)
        return Message("Choose how to continue.")


@dataclass(frozen=True, slots=True)
class LeaveForm(Command):
    """Leave a form or a choice; nothing is done."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        session.work.close_form()
        return Message("Cancelled; nothing was done.")


HOW = {
    Method.GAIN: "the body stands on the scale and gains what is poured",
    Method.LOSS: "the jug stands on the scale and loses what is poured",
    Method.DIFFERENCE: "the whole unit is weighed before and after",
}


def captured_so(session: BenchSession, weighing: Weighing, *, typed: bool = False) -> bool:
    """Return True when oil of this purpose and lot is captured; ``typed``: or read by hand."""
    plan = weighing.plan
    return any(
        (c.purpose, c.oil_lot) == (plan.purpose, plan.lot) and (typed or not c.by_hand)
        for c in session.unit().counting
    )


@dataclass(frozen=True, slots=True)
class _ByMethod(Command):
    """Weigh in by another method, while nothing of this weighing is captured."""

    roles = WORKERS
    method: ClassVar[Method]

    def __call__(self, session: BenchSession) -> Message:
        step, weighing = at_weighing(session)
        if not weighing.plan.purpose.adds:
            raise NotAllowedError("bled oil is weighed on its tray.", where=step.title)
        if captured_so(session, weighing):
            raise NotAllowedError(
                "something is captured by this method already.",
                where=step.title,
                advice="Weigh it again by the same, or go back a step.",
            )
        lose_tare(session, Statement(Code.OTHER_METHOD))
        session.journal([MethodChosen(session.unit().unit_id, step.id, self.method.value)])
        undo = _begin(session, step, weighing.plan.purpose, Statement(Code.OTHER_METHOD))
        return Message(
            f"Weighing in by {self.method.value}: {HOW[self.method]}.{undo}", attention_if(undo)
        )


@dataclass(frozen=True, slots=True)
class WeighByGain(_ByMethod):
    """Weigh in by gain."""

    method = Method.GAIN


@dataclass(frozen=True, slots=True)
class WeighByLoss(_ByMethod):
    """Weigh in by loss."""

    method = Method.LOSS


@dataclass(frozen=True, slots=True)
class WeighByDifference(_ByMethod):
    """Weigh in by difference."""

    method = Method.DIFFERENCE


@dataclass(frozen=True, slots=True)
class TopUp(Command):
    """Weigh in what is filled up after too much was bled."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        step, _ = at_weighing(session)
        if step.kind is not StepKind.BLEED:
            raise NotAllowedError("before the bleed more is simply poured.", where=step.title)
        undo = _begin(session, step, Purpose.TOPUP, Statement(Code.TOP_UP))
        return Message(f"Top-up: it counts with what was poured.{undo}", attention_if(undo))


@dataclass(frozen=True, slots=True)
class WeighSpill(Command):
    """Weigh on the drip tray what was spilled or taken out, and subtract it."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        step, _ = at_weighing(session)
        if not session.unit().counting:
            raise NotAllowedError(
                "nothing is captured yet that this could be taken from.",
                where=step.title,
                advice="Capture the pour first.",
            )
        undo = _begin(session, step, Purpose.SPILL, Statement(Code.SPILL))
        return Message(
            f"Drip tray: what it gains is subtracted from the oil poured.{undo}", attention_if(undo)
        )


@dataclass(frozen=True, slots=True)
class WeighMain(Command):
    """Go back to what the step weighs."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        step, _ = at_weighing(session)
        undo = _begin(session, step, main_purpose(step), Statement(Code.OTHER_WEIGHING))
        return Message(f"Back to the {main_purpose(step).value}.{undo}", attention_if(undo))


@dataclass(frozen=True, slots=True)
class WeighAgain(Command):
    """Weigh again what is weighed here; the new capture counts in place of what was."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        step, weighing = at_weighing(session)
        if not captured_so(session, weighing, typed=True):
            raise NotAllowedError("nothing of it is captured yet.", where=step.title)
        _begin(session, step, weighing.plan.purpose, Statement(Code.WEIGHED_AGAIN), again=True)
        return Message(
            "Weighing again: once captured it counts in place of what was; all stays on record."
        )


@dataclass(frozen=True, slots=True)
class AskOtherLot(Command):
    """Ask for the lot that the rest is poured from."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        step, weighing = at_weighing(session)
        _require_other_lot(session, step, weighing)
        session.work.show_form(LOT)
        return Message("Choose the lot for the rest; this part is captured first.")


def _require_other_lot(
    session: BenchSession, step: Step, weighing: Weighing
) -> dict[str, OilLotReceived]:
    lots = other_lots(session.unit(), session.shop, session.today)
    if not weighing.plan.purpose.adds or not lots:
        raise NotAllowedError(
            "there is no other lot of this oil." if not lots else "nothing is poured here.",
            where=step.title,
        )
    return lots


@dataclass(frozen=True, slots=True)
class PourRest(Command):
    """Capture this part when steady, then go on from another lot of the same oil."""

    roles = WORKERS
    lot: str

    def __call__(self, session: BenchSession) -> Message:
        step, weighing = at_weighing(session)
        if self.lot not in _require_other_lot(session, step, weighing):
            raise NotAllowedError(
                "this is no other lot of the same oil.", where=step.title, advice="Choose one."
            )
        if weighing.wants_before:
            raise NotAllowedError(
                "nothing was poured yet.", where=step.title, advice="Weigh the unit before first."
            )
        Capture()(session)
        weighing.next_lot = self.lot
        session.work.close_form()
        return Message(
            f"Captures this part as soon as the scale is steady; the rest comes from {self.lot}."
        )
