"""A slow scale: its lag is learned as loads come on and pours end, and stays on record."""

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.targets import present_pour
from benchstation.domain.events import MassCaptured, ScaleResponded
from benchstation.domain.pour_delay import FLOW_OVER_S, USUAL_S
from benchstation.domain.specification import StepKind
from benchstation.domain.weigh_in import watch_pour
from benchstation.store.instrument_history import newest_responses
from tests.oil_hands import act
from tests.stepped_bench import make_bench


def tare(bench):
    """Put the empty body on, and tare it once the scale has come to rest."""
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("nothing")
    bench.run(4)
    bench.world.model.put_on_pan("body")
    bench.run(12)
    step = bench.session.unit().current
    for _ in bench.technician().tare(step):
        bench.run(0.1)
    assert bench.session.work.weighing.phase is Phase.POURING


def pour(bench, opening=0.25):
    """Pour until the forecast on screen stands at the goal, as a hand does; kg off the goal."""
    weighing, goal = bench.session.work.weighing, present_pour(bench.session).goal_kg
    bench.world.model.pour_opening = opening

    def lands_there():
        lag_s = bench.session.scale.response_s
        found = watch_pour(*weighing.last_part(FLOW_OVER_S), goal, response_s=lag_s)
        return found.landing_kg >= goal

    bench.until(lands_there, 120)
    bench.world.model.pour_opening = 0.0
    bench.run(15)
    return weighing.poured_kg(bench.session.scale.instrument.latest().value) - goal


def on_record(bench):
    return [entry.event for entry in bench.store.entries(kind=ScaleResponded.kind)]


def test_a_slow_scale_is_known_by_the_body_that_was_set_on(bench):
    bench.world.scale.filter_s = 1.0
    tare(bench)
    learned = bench.session.scale.responded
    assert learned.step_s == pytest.approx(1.0, abs=0.15)
    assert learned.response_s > 2 * USUAL_S
    assert on_record(bench)[-1] == learned
    assert abs(pour(bench)) < 0.0015, "within the tolerance of 2 mL"


def test_a_pour_that_landed_beside_its_forecast_corrects_the_next(bench, tmp_path):
    bench.world.scale.filter_s = 1.0
    tare(bench)
    bench.session.scale.steps.delays_s.clear()
    bench.session.scale.responded = None
    off_kg = pour(bench)
    assert off_kg > 0.003, "with the usual lag it runs over"
    act(bench, "capture")
    bench.until(lambda: len(bench.store.entries(kind=MassCaptured.kind)) == 1)
    learned = bench.session.scale.responded
    # First order behind first order: the jug's quarter of a second and the scale's one.
    assert learned.pours_s == pytest.approx([1.25], abs=0.15)
    assert newest_responses(bench.store) == {"scale-1": learned}
    bench.store.close()
    again = make_bench(tmp_path)
    try:
        assert again.session.scale.response_s == learned.response_s
    finally:
        again.store.close()
