"""A charge that was captured counts for its own fill alone."""

import pytest

from benchstation.driver_api.errors import StationError
from tests.oil_hands import act
from tests.stepped_bench import make_bench


@pytest.fixture
def bench(tmp_path):
    bench = make_bench(tmp_path)
    bench.sign_in()
    for _ in bench.technician().work():
        bench.run(0.1)
        charge = bench.session.unit().charge
        if charge and charge.decision == "pass" and not bench.session.work.charge_wanted:
            break
    bench.run(60)
    yield bench
    bench.store.close()


def _refill(bench, low):
    """Let gas out, and let it in again as fast as it comes, up to the same reading."""
    model, charge = bench.world.model, bench.session.unit().charge
    model.vent_opening = 0.5
    bench.until(lambda: model.gas_gauge_pa < low * charge.gauge_pa)
    model.vent_opening = 0.0
    bench.run(1)
    model.regulator_gauge_pa, model.valve_opening = 2 * charge.gauge_pa, 0.5
    bench.until(lambda: model.gas_gauge_pa > charge.gauge_pa)
    model.valve_opening = 0.0
    bench.run(1)


@pytest.mark.parametrize("low", [0.02, 0.9])
def test_a_capture_does_not_count_for_another_fill(bench, low):
    _refill(bench, low)
    with pytest.raises(StationError, match="left what was captured"):
        act(bench, "hold")
    assert not bench.session.work.hold_wanted


def test_a_new_capture_of_the_new_fill_opens_the_hold_test_again(bench):
    _refill(bench, 0.9)
    before = bench.session.unit().charge
    act(bench, "capture")
    bench.until(lambda: not bench.session.work.charge_wanted, 600)
    assert bench.session.unit().charge != before
    act(bench, "hold")
    assert bench.session.work.hold_wanted


def test_what_a_gauge_did_not_see_is_captured_again(bench):
    bench.session.work.charging.unseen()
    with pytest.raises(StationError, match="nobody saw what it did"):
        act(bench, "hold")


def test_a_gauge_that_broke_before_any_capture_has_left_nothing(bench):
    charging = type(bench.session.work.charging)(1e6, 100.0)
    charging.unseen()
    assert not charging.left_captured
