"""The release at a bench: what the gauge saw of the unit is on record without anybody asking."""

import pytest

from benchstation.demo.world import as_found_pa
from benchstation.domain.events import GasFell, GasFound
from benchstation.domain.inputs.zero import ZeroRead, unseen_fields
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import StepKind
from tests.stepped_bench import make_bench


@pytest.fixture
def bench(tmp_path):
    bench = make_bench(tmp_path)
    yield bench
    bench.store.close()


def facts(bench, kind):
    entries = bench.store.entries(unit_id=bench.session.rebuild.unit_id)
    return [e.event for e in entries if isinstance(e.event, kind)]


def zero_of(bench) -> ZeroRead:
    evidence = bench.session.unit().signatures["release"].evidence
    (zero,) = [result for result in evidence if isinstance(result, ZeroRead)]
    return zero


def test_gas_as_found_and_its_fall_are_on_record_with_a_trace(bench):
    bench.work_to(StepKind.PARTS)
    (found,) = facts(bench, GasFound)
    expected = as_found_pa(bench.session.unit().specification)
    assert found.gauge_pa < expected
    # The volume is that of the specified fill; the old one is 1.5 % of the oil less.
    assert found.before_joining_gauge_pa == pytest.approx(expected, rel=0.005)
    (fell,) = facts(bench, GasFell)
    assert fell.from_gauge_pa == pytest.approx(found.gauge_pa, rel=0.01)
    assert abs(fell.to_gauge_pa) <= fell.band_pa
    trace = bench.store.get_trace(fell.trace_sha256)
    assert trace.channels["gauge_pa"].max() >= fell.from_gauge_pa
    assert zero_of(bench).seen is True


def test_a_gauge_beside_the_unit_does_not_release_it_by_one_tick(bench):
    bench.world.gauge.connected = False
    bench.work_to(StepKind.RELEASE)
    bench.run(3)
    assert bench.world.model.gas_gauge_pa > 10e5
    with pytest.raises(NotAllowedError, match="did not see gas"):
        bench.session.act("sign", {"confirm1": "yes"})
    bench.session.act("sign", {"confirm1": "yes", **dict.fromkeys(unseen_fields("zero1"), "yes")})
    assert zero_of(bench).seen is False
    assert zero_of(bench).found_gauge_pa is None
