"""A tick at the release lives only while the gas is out, and carries the reading of its moment."""

import pytest

from benchstation.domain.inputs.confirmation import Confirmed
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import METRIC
from benchstation.screens.bench.page import bench_view
from benchstation.screens.model.elements import FieldKind
from tests.stepped_bench import make_bench

TICK = {"confirm1": "yes"}


@pytest.fixture
def bench(tmp_path):
    bench = make_bench(tmp_path)
    bench.work_to(StepKind.RELEASE)
    bench.run(2)
    yield bench
    bench.store.close()


def let_out(bench) -> None:
    bench.world.model.open_gas_screw()
    bench.world.model.vent_opening = 0.5
    bench.until(lambda: abs(bench.world.model.gas_gauge_pa) < 100.0)
    bench.run(3)


def checks(bench) -> list:
    fields = bench_view(bench.session, METRIC).task.fields
    return [field for field in fields if field.kind is FieldKind.CHECK]


def test_a_tick_made_under_pressure_signs_nothing_later(bench):
    bench.session.act("typed", TICK)
    let_out(bench)
    with pytest.raises(NotAllowedError, match="still to do"):
        bench.session.act("sign", TICK)
    bench.session.act("typed", {"confirm1": ""})
    bench.session.act("typed", TICK)
    bench.session.act("sign", TICK)
    evidence = bench.session.unit().signatures["release"].evidence
    (confirmed,) = [result for result in evidence if isinstance(result, Confirmed)]
    assert abs(confirmed.gauge_pa) < 1e4


def test_a_tick_is_cleared_when_pressure_comes_back(bench):
    let_out(bench)
    bench.session.act("typed", TICK)
    assert checks(bench)[0].value == "yes"
    bench.world.gauge.offset_pa = 2e5
    bench.run(1)
    bench.world.gauge.offset_pa = 0.0
    bench.run(1)
    assert checks(bench)[0].value == ""
    with pytest.raises(NotAllowedError, match="still to do"):
        bench.session.act("sign", TICK)


def test_nothing_can_be_ticked_while_there_is_pressure(bench):
    assert checks(bench) == []
    let_out(bench)
    assert [field.id for field in checks(bench)] == ["confirm1"]
