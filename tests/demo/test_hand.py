"""Who holds Fill or Vent at what the panel begins with sees a brisk rise, and no alarm of it."""

import pytest

from benchstation.bench.shop import CHARGING_PA_S
from benchstation.demo import shop as demo
from benchstation.demo.hand import VirtualHand
from benchstation.domain.guard import AlarmKind
from benchstation.domain.specification import StepKind
from benchstation.ui.shell.demo_panel import FIRST_OPENING
from tests.stepped_bench import STEP_S, make_bench

FAMILIES = sorted(demo.LOT_OF)


@pytest.fixture
def bench(tmp_path):
    made = make_bench(tmp_path)
    yield made
    made.store.close()


def work_to(bench, kind, family):
    for _ in bench.technician(family=family).work():
        bench.run(STEP_S)
        if bench.session.rebuild.current.kind is kind:
            return


def shown(bench):
    return bench.session.gauge.instrument.latest().value


def watched(bench, condition, seconds=60.0):
    """Return how long it took, s, and the largest change within one reading, Pa."""
    last, largest = shown(bench), 0.0
    for count in range(round(seconds / STEP_S)):
        if condition():
            return count * STEP_S, largest
        bench.run(STEP_S)
        largest = max(largest, abs(shown(bench) - last))
        last = shown(bench)
    raise AssertionError(f"not within {seconds} s; the gauge shows {shown(bench)}")


def kinds(bench):
    return [alarm.kind for alarm in bench.session.watch.snapshot().alarms]


@pytest.mark.parametrize("family", FAMILIES)
def test_gas_is_let_out_and_in_again_briskly(bench, family):
    hand = VirtualHand(bench.world)
    work_to(bench, StepKind.RELEASE, family)
    hand.set_vent(FIRST_OPENING)
    seconds, step = watched(bench, lambda: shown(bench) < 5e3)
    hand.set_vent(0.0)
    assert 2.0 < seconds < 15.0
    assert step < 3e5
    work_to(bench, StepKind.CHARGE, family)
    target = bench.session.work.charge_target.target_gauge_pa
    hand.set_regulator(1.5 * target)
    hand.set_valve(FIRST_OPENING)
    seconds, step = watched(bench, lambda: shown(bench) > target)
    hand.set_valve(0.0)
    assert 4.0 < seconds < 30.0
    assert step < 0.1 * CHARGING_PA_S * STEP_S
    assert not kinds(bench)


@pytest.mark.parametrize("family", FAMILIES)
def test_with_hardly_any_room_for_gas_the_warning_comes_before_the_rate(bench, family):
    """Far too much oil: the guard is as it is, and what it tells is the pressure."""
    hand, model = VirtualHand(bench.world), bench.world.model
    work_to(bench, StepKind.CHARGE, family)
    model.oil_kg += model.gas_volume_m3 * model.rho_oil_kg_m3
    model.let_air_out()
    bench.run(1)
    hand.set_regulator(18e5)
    hand.set_valve(FIRST_OPENING)
    bench.run(15)
    hand.set_valve(0.0)
    assert AlarmKind.IMPLAUSIBLE_RATE not in kinds(bench)


def test_the_guard_still_tells_of_a_valve_thrown_open_into_hardly_any_room(bench):
    model = bench.world.model
    work_to(bench, StepKind.CHARGE, "sledge-36")
    model.oil_kg += model.gas_volume_m3 * model.rho_oil_kg_m3
    model.let_air_out()
    bench.run(1)
    model.regulator_gauge_pa, model.valve_opening = 18e5, FIRST_OPENING
    bench.run(2)
    assert AlarmKind.IMPLAUSIBLE_RATE in kinds(bench)


def test_the_line_before_a_closed_screw_is_let_down_no_faster(bench):
    hand, model = VirtualHand(bench.world), bench.world.model
    work_to(bench, StepKind.CHARGE, "carrier-50")
    hand.set_regulator(20e5)
    hand.set_valve(FIRST_OPENING)
    watched(bench, lambda: shown(bench) > 16e5)
    hand.set_valve(0.0)
    model.close_gas_screw()
    hand.set_vent(FIRST_OPENING)
    _, step = watched(bench, lambda: shown(bench) < 5e3)
    assert step < 0.5 * CHARGING_PA_S * STEP_S
    assert not kinds(bench)
