"""A route without a push force is filed only when the unit has gained its gas."""

import pytest

from benchstation.domain.gas_mass import gain, missing_proof
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import StepKind
from benchstation.metrology.conformity import Decision
from benchstation.quantities.formatter import METRIC
from benchstation.reports.certificate import gas_by_mass_lines
from benchstation.reports.export import filed_record
from benchstation.screens.bench.page import bench_view
from tests.stepped_bench import make_bench

FAMILY = "sledge-36"


@pytest.fixture
def bench(tmp_path):
    bench = make_bench(tmp_path)
    yield bench
    bench.store.close()


def work_to(bench, kind: StepKind) -> None:
    for _ in bench.technician(family=FAMILY).work():
        rebuild = bench.session.rebuild
        if rebuild is not None and rebuild.current is not None and rebuild.current.kind is kind:
            return
        bench.run(0.1)


def actions(bench) -> list[str]:
    return [action.id for action in bench_view(bench.session, METRIC).task.actions]


def weigh(bench) -> None:
    bench.world.model.put_on_pan("nothing")
    bench.run(2)
    bench.session.act("weigh_unit", {})
    bench.run(4)
    bench.world.model.put_on_pan("unit")
    bench.run(6)
    bench.world.model.put_on_pan("nothing")


def test_a_sealed_unit_has_gained_its_gas_and_is_filed(bench):
    for _ in bench.technician(family=FAMILY).work():
        bench.run(0.1)
    rebuild = bench.session.rebuild
    assert rebuild.ended == "filed"
    assert not rebuild.deviations
    found = gain(rebuild)
    assert found is not None
    assert found.decision is Decision.PASS
    assert found.gain_kg == pytest.approx(found.expected_kg, abs=found.expanded_kg)


def test_what_was_not_weighed_is_not_filed(bench):
    work_to(bench, StepKind.CHARGE)
    assert "weigh_unit" in actions(bench)
    weigh(bench)
    assert bench.session.unit().unit_before is not None
    work_to(bench, StepKind.FILE)
    assert "weigh_unit" in actions(bench)
    assert missing_proof(bench.session.unit())
    with pytest.raises(NotAllowedError, match="not weighed"):
        bench.session.act("file", {})


def test_with_gas_in_it_the_unit_is_not_weighed_as_empty(bench):
    work_to(bench, StepKind.CHARGE)
    bench.world.model.regulator_gauge_pa = 5e5
    bench.world.model.valve_opening = 0.2
    bench.until(lambda: bench.world.model.gas_gauge_pa > 2e5)
    bench.world.model.valve_opening = 0.0
    bench.run(1)
    assert "weigh_unit" not in actions(bench)
    with pytest.raises(NotAllowedError, match="before gas"):
        bench.session.act("weigh_unit", {})


def test_a_route_with_a_push_force_asks_for_no_weighing(bench):
    bench.work_to(StepKind.CHARGE)
    bench.run(1)
    assert "weigh_unit" not in actions(bench)


def test_the_gas_by_mass_stands_in_the_record(bench):
    for _ in bench.technician(family=FAMILY).work():
        bench.run(0.1)
    record = filed_record(bench.store, bench.session.rebuild.unit_id).record
    assert record.gas_by_mass is not None
    assert record.gas_by_mass.decision == "pass"
    assert record.lots_scanned == ("L-0440",)
    (said,) = gas_by_mass_lines(record, METRIC)
    assert said.startswith("Gas by mass: gained 0.")
