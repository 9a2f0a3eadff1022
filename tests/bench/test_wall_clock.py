"""Somebody sets the machine's clock by an hour in the middle of a unit: order and targets stay.

Set back or forward it holds the unit: what was read lately passes for fresh, or a wait for long.
Events are dated by the wall and ordered by the journal; readings, waits and settling are on a clock
that nobody sets.
"""

import itertools
from datetime import datetime, timedelta

import pytest

from benchstation.bench.capture.charging import ChargePhase
from benchstation.bench.capture.weighing import Phase
from benchstation.clock import Clock
from benchstation.domain.events import (
    ChargeCaptured,
    ClockRanBack,
    MassCaptured,
    TareLost,
    UnitFiled,
)
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code
from benchstation.domain.unit_record import record_in

HOUR = timedelta(hours=1)


def set_clock(bench, by: timedelta) -> None:
    """Set what the bench and its alarms take for the time of day."""
    steady = bench.clock
    jumped = Clock(steady.seconds, lambda: steady.utc() + by)
    bench.session.clock = bench.live.alarms.clock = jumped


def work_through(bench, amid: StepKind, by: timedelta) -> None:
    """Let the technician make the whole unit; the clock is set in the middle of one step."""
    session, done = bench.session, False
    for _ in bench.technician().work():
        if not done:
            done = session.rebuild is not None and session.rebuild.current is not None
            done = done and session.rebuild.current.kind is amid and amid_it(session)
            if done:
                set_clock(bench, by)
        bench.run(0.1)
    assert done


def amid_it(session) -> bool:
    if session.work.weighing is not None:
        pouring = session.work.weighing.phase is Phase.POURING
        return pouring and session.scale.instrument.latest().value > 0.05
    return session.work.charging.phase(session.clock.seconds()) is ChargePhase.SETTLING


@pytest.mark.parametrize("by", [HOUR, -HOUR], ids=["forward", "back"])
@pytest.mark.parametrize("amid", [StepKind.WEIGH, StepKind.CHARGE], ids=["pour", "charge"])
def test_the_unit_is_made_and_filed_in_order(bench, amid, by):
    work_through(bench, amid, by)
    entries = bench.store.entries()
    assert [e.seq for e in entries] == list(range(1, len(entries) + 1))
    verified = bench.store.verify()
    assert verified.ok, verified.problem
    (filed,) = (e for e in entries if isinstance(e.event, UnitFiled))
    assert filed.event.decision == "pass"
    set_back = bench.store.entries(kind=ClockRanBack.kind)
    assert len(set_back) == (by < timedelta())
    reasons = [reason.code for reason in record_in(filed.event.record).qa_hold_reasons]
    assert reasons == [Code.CLOCK_RAN_BACK if by < timedelta() else Code.CLOCK_SET_FORWARD]
    for entry in set_back:
        told = datetime.fromisoformat(entry.event.now_utc) - datetime.fromisoformat(
            entry.event.last_utc
        )
        assert (entry.utc, told) == (datetime.fromisoformat(entry.event.now_utc), by)
    assert not [e for e in entries if isinstance(e.event, TareLost)], "no reading was late"
    steps = [e.utc for e in entries if getattr(e.event, "unit_id", "") == filed.event.unit_id]
    jumps = [b - a for a, b in itertools.pairwise(steps)]
    assert (min(jumps) < -HOUR / 2) if by < timedelta() else (max(jumps) > HOUR / 2)
    kind = MassCaptured if amid is StepKind.WEIGH else ChargeCaptured
    captured = next(e for e in entries if isinstance(e.event, kind))
    trace = bench.store.get_trace(captured.event.trace_sha256)
    assert (trace.t_us[1:] >= trace.t_us[:-1]).all()
    assert trace.t_us[-1] < 600e6, "the hour is not in the trace"
