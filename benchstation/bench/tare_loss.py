"""A tare that no longer holds, with the oil that may be in the unit and in no record."""

from benchstation.bench.capture.next_step import AGAIN, not_captured
from benchstation.bench.messages import Severity, attention_if
from benchstation.bench.put_back import LACKS, doubt_after_putting_back
from benchstation.bench.session import BenchSession
from benchstation.domain.events import Event, OilUnweighed, TareLost, UnitResumed
from benchstation.domain.statement_words import worded
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unweighed import unseen


def lose_tare(session: BenchSession, reason: Statement) -> str:
    """Take note that the tare no longer holds, if there was one.

    Gives what must be undone where oil is in the unit and in no record; else empty.
    """
    rebuild = session.rebuild
    if session.work.weighing is None or rebuild is None:
        return ""
    had, undo = session.work.weighing.lose_tare(), ""
    if session.work.weighing.uncaptured:
        undo = not_captured(session.work.weighing.uncaptured_kg, session.words)
    if not had and (not undo or rebuild.uncaptured is not None):
        return undo
    step_id = rebuild.current.id if rebuild.current else ""
    missing_kg = session.work.weighing.uncaptured_kg if session.work.weighing.uncaptured else 0.0
    facts: list[Event] = [TareLost(rebuild.unit_id, step_id, reason, missing_kg)]
    if undo:
        purpose = session.work.weighing.plan.purpose.value
        facts.append(OilUnweighed(rebuild.unit_id, step_id, purpose, reason, missing_kg))
    session.journal(facts)
    session.work.weighing.doubt_told()
    if had:
        first = undo or "Tare again before you continue."
        session.say(f"The tare is lost: {worded(reason)}. {first}", Severity.ATTENTION)
    return undo


def recover(session: BenchSession) -> None:
    """Go on with the unit that was on the bench: read the journal, fold, same step.

    What was live is gone: a proven tare must be proven again.
    """
    unit_id = session.store.open_unit()
    if unit_id is None:
        return
    rebuild, undo = session.on_bench.folded(unit_id), ""
    session.on_bench.take(rebuild)
    doubt = doubt_after_putting_back(session.store, rebuild)
    session.journal(doubt)
    if rebuild.current is not None:
        session.journal([UnitResumed(unit_id, rebuild.current.id)])
    if rebuild.tare is not None and not doubt:
        undo = f" The tare is lost. {AGAIN}"
        reason = Statement(Code.RESTARTED)
        lost = TareLost(unit_id, rebuild.tare.step_id, reason)
        session.journal([lost, *unseen(rebuild, rebuild.tare, reason)])
    elif rebuild.uncaptured is not None:
        undo = f" {not_captured(rebuild.uncaptured.uncaptured_kg, session.words)}"
    if doubt:
        undo = f" Look at the unit: {worded(LACKS)}."
    session.say(f"{rebuild.opened.serial} continues where it was.{undo}", attention_if(undo))
    session.enter_step()
