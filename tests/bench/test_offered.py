"""What the rules would refuse is shown as not possible, with the reason they would give."""

import pytest

from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view
from tests.oil_hands import act


def offered(bench, action):
    view = bench_view(bench.session, QuantityFormatter(UnitSystem.METRIC))
    return next(a for a in (*view.task.actions, *view.side_actions) if a.id == action)


def vent(bench, share):
    model = bench.world.model
    model.vent_opening = 0.02
    wanted = share * model.gas_gauge_pa
    bench.until(lambda: bench.session.gauge.instrument.latest().value < wanted)
    model.vent_opening = 0.0
    bench.run(1)


def test_a_unit_is_set_aside_only_where_the_gauge_shows_nothing(bench):
    bench.work_to(StepKind.RELEASE)
    asked = offered(bench, "set_aside")
    assert not asked.enabled
    assert asked.why_not.startswith("the gauge shows ")
    with pytest.raises(NotAllowedError) as refused:
        act(bench, "set_aside", reason="waits")
    assert asked.why_not.split(":")[0] in str(refused.value)
    bench.world.model.vent_opening = 0.5
    bench.until(lambda: offered(bench, "set_aside").enabled)
    act(bench, "set_aside", reason="waits")
    assert bench.session.rebuild is None


def test_a_hold_test_is_offered_only_at_the_pressure_that_was_captured(bench):
    bench.work_to(StepKind.CHARGE)
    for _ in bench.technician().work():
        bench.run(0.1)
        if bench.session.rebuild.charge is not None:
            break
    assert offered(bench, "hold").enabled
    vent(bench, 0.9)
    asked = offered(bench, "hold")
    assert not asked.enabled
    with pytest.raises(NotAllowedError) as refused:
        act(bench, "hold")
    assert asked.why_not in str(refused.value)
    assert asked.why_not == "the pressure is not what was captured any more"
