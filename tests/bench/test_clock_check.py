from datetime import timedelta

from benchstation.bench.clock_check import note_clock
from benchstation.domain.events import ClockRanBack
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_record import record_in
from benchstation.store.schema import utc_text
from tests.stepped_bench import make_bench


def filed(bench):
    event = bench.store.entries(kind="unit.filed")[-1].event
    return event, record_in(event.record).qa_hold_reasons


def test_a_clock_set_back_is_a_fact_and_holds_the_unit_on_the_bench(tmp_path):
    bench = make_bench(tmp_path)
    bench.work_to(StepKind.WEIGH)
    last = bench.store.last_utc()
    assert note_clock(bench.store, last - timedelta(days=3))
    (entry,) = bench.store.entries(kind=ClockRanBack.kind)
    assert entry.event.last_utc == utc_text(last)
    assert entry.utc == last - timedelta(days=3)
    bench.work_to(None)
    event, reasons = filed(bench)
    assert event.qa_hold
    assert Statement.of(Code.CLOCK_RAN_BACK) in reasons
    bench.store.close()


def test_a_clock_set_back_before_the_unit_was_opened_holds_nothing(tmp_path):
    bench = make_bench(tmp_path)
    last = bench.store.last_utc()
    assert note_clock(bench.store, last - timedelta(hours=1))
    bench.work_to(None)
    assert Statement.of(Code.CLOCK_RAN_BACK) not in filed(bench)[1]
    bench.store.close()


def test_a_clock_that_goes_on_or_is_set_by_the_network_is_no_fact(tmp_path):
    bench = make_bench(tmp_path)
    last = bench.store.last_utc()
    for moved in (timedelta(seconds=-1.9), timedelta(0), timedelta(days=40)):
        assert not note_clock(bench.store, last + moved)
    assert bench.store.entries(kind=ClockRanBack.kind) == []
    bench.store.close()
