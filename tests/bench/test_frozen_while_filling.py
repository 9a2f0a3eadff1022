"""A gauge that hangs while gas is let in is an alarm; one that lives is none, however it is filled.

The station sees no valve. What its digits can show depends on their size and on their noise.
"""

import itertools

import pytest

from benchstation.bench.locks import capture_locked
from benchstation.domain.guard import AlarmKind
from benchstation.domain.specification import StepKind
from tests.stepped_bench import make_bench

DIGITS = {"0.001 bar": 3, "0.01 bar": 2, "0.1 bar": 1}


def thinned(*axes):
    """Return all combinations: a third, each two values in one, runs always, the rest is a soak."""
    return [
        pytest.param(
            *(axis[n] for axis, n in zip(axes, places, strict=True)),
            marks=() if sum(places) % 3 == 0 else pytest.mark.soak,
        )
        for places in itertools.product(*(range(len(axis)) for axis in axes))
    ]


@pytest.fixture
def bench(tmp_path):
    bench = make_bench(tmp_path)
    yield bench
    bench.store.close()


def hangs(bench) -> bool:
    alarms = bench.session.watch.snapshot().alarms
    return AlarmKind.FROZEN in [alarm.kind for alarm in alarms]


def at_charge(bench, decimals: int, noise_pa: float = 150.0) -> float:
    """Come to the charge with a gauge of this many decimals; return the target."""
    bench.work_to(StepKind.CHARGE)
    bench.world.gauge.decimals, bench.world.gauge.noise_pa = decimals, noise_pa
    bench.run(5)
    bench.world.model.open_gas_screw()
    return bench.session.work.charge_target.target_gauge_pa


def fill(bench, to_pa: float, opening: float) -> None:
    model = bench.world.model
    model.regulator_gauge_pa, model.valve_opening = 2.0 * to_pa, opening
    bench.until(lambda: model.gas_gauge_pa >= to_pa, 300)


@pytest.mark.parametrize(
    ("decimals", "opening", "share"), thinned(list(DIGITS.values()), [1.0, 0.3, 0.03], [0.3, 0.98])
)
def test_a_gauge_that_hangs_with_the_valve_open_is_an_alarm(bench, decimals, opening, share):
    goal = at_charge(bench, decimals)
    fill(bench, share * goal, opening)
    assert not hangs(bench)
    bench.world.gauge.frozen = True
    bench.until(lambda: hangs(bench), 6.0)
    assert capture_locked(bench.session) == "gauge frozen"
    bench.world.gauge.frozen = False
    bench.run(2)
    alarm = bench.session.watch.snapshot().alarms[0]
    assert not alarm.state.active, "it went back, and is acknowledged by somebody"


@pytest.mark.parametrize(
    ("noise_pa", "decimals", "opening"),
    thinned([0.0, 150.0, 1500.0], list(DIGITS.values()), [1.0, 0.15, 0.03]),
)
def test_a_gauge_that_lives_is_none_while_it_is_filled_shut_and_captured(
    bench, decimals, opening, noise_pa
):
    goal = at_charge(bench, decimals, noise_pa)
    fill(bench, 0.5 * goal, opening)
    bench.world.model.valve_opening = 0.0
    bench.run(3)
    fill(bench, 1.05 * goal, opening)
    bench.world.model.valve_opening = 0.0
    bench.run(3)
    bench.session.act("capture", {})
    for _ in range(600):
        bench.run(0.1)
        assert not hangs(bench)


def test_a_capture_that_was_asked_for_beside_a_gauge_that_hangs_takes_nothing(bench):
    goal = at_charge(bench, 3)
    fill(bench, goal, 0.3)
    bench.world.gauge.frozen = True
    bench.session.act("capture", {})
    bench.run(60)
    assert hangs(bench)
    assert bench.session.unit().charge is None


def test_asking_for_the_capture_says_that_the_valve_is_shut(bench):
    goal = at_charge(bench, 1, 0.0)
    fill(bench, goal, 0.03)
    bench.world.model.valve_opening = 0.0
    bench.until(lambda: hangs(bench), 9.0)
    bench.session.act("capture", {})
    bench.until(lambda: bench.session.unit().charge is not None)
    assert capture_locked(bench.session) == ""


def test_the_alarm_ends_with_the_step_and_is_on_record(bench):
    goal = at_charge(bench, 1)
    fill(bench, 0.5 * goal, 0.03)
    bench.world.gauge.frozen = True
    bench.until(lambda: hangs(bench), 6.0)
    bench.world.model.valve_opening = 0.0
    (episode,) = {a.episode for a in bench.session.watch.snapshot().alarms}
    bench.run(0.2)
    assert bench.session.unit().alarms[episode].alarm == "gauge frozen"
