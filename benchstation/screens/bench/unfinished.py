"""What ends when the window closes: the watch over the pressure, and a capture under way."""

from benchstation.bench.capture.weighing import Weighing
from benchstation.bench.session import BenchSession
from benchstation.domain.guard import GuardSnapshot
from benchstation.domain.oil_balance import Purpose

ZERO_WITHOUT_UNIT_PA = 20_000.0
STAYS = "The unit stays at this step."


def watched(session: BenchSession, seen: GuardSnapshot) -> str:
    """Return what nobody would watch any more without this program; empty: nothing.

    May be called from any thread.
    """
    if seen.alarms:
        return f"An alarm is open: {', '.join(alarm.kind.value for alarm in seen.alarms)}."
    return "There is pressure at the gauge." if _under_pressure(session, seen) else ""


def unfinished(session: BenchSession, seen: GuardSnapshot) -> str:
    """Return what is measured and not captured yet, and what becomes of the unit; empty: nothing.

    It says what a start finds: a unit at its step, its captures and doubts; no tare, no hold test.
    """
    if session.study is not None:
        return "The repeatability run is not finished. It begins again."
    work = session.work
    if session.rebuild is None:
        return ""
    if work.unit_weighing is not None:
        return f"The weighing of the unit is not captured. {STAYS} Weigh it again."
    if work.pressure_again is not None:
        return f"The second pressure reading is not captured. {STAYS} Read it again."
    if work.weighing is not None:
        return _of_weighing(work.weighing)
    if work.charging is not None and _under_pressure(session, seen):
        if work.charging.holding or work.hold_wanted:
            return f"The hold test is not finished. {STAYS} The hold test begins again."
        if session.rebuild.charge is None:
            return f"The charge is not captured. {STAYS} Its gas stays in; capture it then."
    return ""


def _of_weighing(weighing: Weighing) -> str:
    if weighing.moved_kg:
        undone = "come out" if Purpose(weighing.plan.purpose).adds else "go back in"
        return f"Oil was moved and is not captured. {STAYS} It must {undone} before the next tare."
    return f"The weighing is not captured. {STAYS} Begin it again." if weighing.under_way else ""


def _under_pressure(session: BenchSession, seen: GuardSnapshot) -> bool:
    rebuild = session.rebuild
    band = rebuild.specification.gas.release_zero_band if rebuild else ZERO_WITHOUT_UNIT_PA
    return seen.gauge_pa is not None and seen.gauge_pa > band
