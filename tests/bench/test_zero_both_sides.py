"""The gauge's zero before the charge and after the seal-off: both within the band, and the same."""

import pytest

from benchstation.bench.locks import capture_locked
from benchstation.domain.events import GaugeZero
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import StepKind
from tests.stepped_bench import make_bench

CONFIRMED = {"confirm1": "yes", "confirm2": "yes"}


@pytest.fixture
def bench(tmp_path):
    bench = make_bench(tmp_path)
    yield bench
    bench.store.close()


def to_seal(bench) -> None:
    for _ in bench.technician().work():
        step = bench.session.rebuild.current if bench.session.rebuild else None
        if step is not None and step.id == "seal":
            break
        bench.run(0.1)
    bench.world.model.close_gas_screw()
    bench.session.act("typed", {"confirm1": "yes"})
    bench.world.model.vent_opening = 0.1
    bench.run(5)


def test_the_zero_before_the_charge_is_on_record_and_at_the_seal_off_compared(bench):
    bench.work_to(StepKind.CHARGE)
    bench.run(2)
    zero = bench.session.unit().zero_before
    assert isinstance(zero, GaugeZero)
    assert abs(zero.gauge_pa) <= zero.band_pa
    to_seal(bench)
    bench.session.act("sign", CONFIRMED)
    (read,) = [
        r for r in bench.session.unit().signatures["seal"].evidence if isinstance(r, ZeroRead)
    ]
    assert read.zero_before_pa == zero.gauge_pa


def test_a_gauge_that_shows_less_than_any_line_has_is_an_alarm(bench):
    bench.work_to(StepKind.CHARGE)
    bench.world.gauge.offset_pa = -0.6e5
    bench.run(2)
    assert capture_locked(bench.session) == "signal fault"


@pytest.mark.parametrize("offset", [-0.15e5, -0.12e5])
def test_a_gauge_that_shows_no_zero_captures_no_charge(bench, offset):
    bench.work_to(StepKind.TORQUE)
    bench.world.gauge.offset_pa = offset
    bench.run(2)
    bench.work_to(StepKind.CHARGE)
    bench.run(8)
    assert "of zero before the gas" in capture_locked(bench.session)
    with pytest.raises(NotAllowedError, match="of zero before the gas"):
        bench.session.act("capture", {})
    bench.world.gauge.offset_pa = 0.0
    bench.run(2)
    assert capture_locked(bench.session) == "fill first: the gauge has not risen yet"


def test_a_zero_below_the_band_after_the_seal_off_leaves_the_charge_undecided(bench):
    to_seal(bench)
    bench.world.gauge.offset_pa = -0.6e5
    bench.run(1)
    with pytest.raises(NotAllowedError, match="undecided"):
        bench.session.act("sign", CONFIRMED)
    assert "seal" not in bench.session.unit().signatures


def test_a_zero_that_moved_within_the_band_is_seen_by_the_difference(bench):
    bench.work_to(StepKind.TORQUE)
    bench.world.gauge.offset_pa = 0.08e5
    to_seal(bench)
    bench.world.gauge.offset_pa = -0.08e5
    bench.run(1)
    with pytest.raises(NotAllowedError, match="moved by"):
        bench.session.act("sign", CONFIRMED)
