"""Every start of the program while a unit is on the bench stands in its record and on paper."""

from benchstation.bench.tare_loss import recover
from benchstation.domain.events import UnitResumed
from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import METRIC
from benchstation.reports.doubts import doubt_lines
from benchstation.reports.export import filed_record
from tests.stepped_bench import make_bench


def restarted(bench, folder):
    bench.store.close()
    again = make_bench(folder)
    again.run(2)
    recover(again.session)
    return again


def test_each_start_with_a_unit_on_the_bench_is_on_record(tmp_path):
    bench = make_bench(tmp_path)
    bench.work_to(StepKind.WEIGH, serial="R-1", family="sledge-36")
    step = bench.session.rebuild.current
    for _ in range(2):
        bench = restarted(bench, tmp_path)
    rebuild = bench.session.rebuild
    resumed = [e.event for e in bench.store.entries(unit_id=rebuild.unit_id, kind="unit.resumed")]
    bench.store.close()
    assert resumed == [UnitResumed(rebuild.unit_id, step.id)] * 2
    assert [where for where, _ in rebuild.restarts] == [step.id] * 2


def test_a_start_is_in_the_filed_record_and_in_the_box_of_doubts(tmp_path):
    bench = make_bench(tmp_path)
    session, told = bench.session, []
    for _ in bench.technician(serial="R-2", family="sledge-36").work():
        rebuild = session.rebuild
        if not told and rebuild and rebuild.current and rebuild.current.kind is StepKind.BLEED:
            told.append(rebuild.current)
            session.journal([UnitResumed(rebuild.unit_id, rebuild.current.id)])
        bench.run(0.1)
    record = filed_record(bench.store, session.rebuild.unit_id).record
    bench.store.close()
    assert [one.step for one in record.restarts] == [told[0].id]
    lines = [line for line in doubt_lines(record, METRIC, str) if "started again" in line]
    assert len(lines) == 1
    assert f"'{told[0].title}'" in lines[0]


def test_a_start_without_a_unit_says_nothing(tmp_path):
    bench = make_bench(tmp_path)
    before = bench.store.head()
    bench = restarted(bench, tmp_path)
    assert bench.store.head() == before
    bench.store.close()
