"""A scale whose digits hide its noise: one that hangs looks the same, so it has to answer."""

import pytest

from benchstation.bench.targets import present_pour
from benchstation.domain.events import MassCaptured
from benchstation.domain.scale_alive import Alive
from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import METRIC
from benchstation.reports.export import filed_record
from benchstation.reports.oil_words import weighing_lines
from tests.oil_hands import act, lines, pour, tare

TOUCH = "no digit changes: press the scale lightly, let go"


@pytest.fixture
def still(bench):
    """Return a bench at the weigh-in, the body tared on a scale that shows no noise."""
    bench.world.scale.noise_kg = 0.0
    bench.sign_in()
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    return bench


def press(bench, kg=0.01):
    bench.world.model.pressed_kg = kg
    bench.run(1)
    bench.world.model.pressed_kg = 0.0
    bench.run(4)


def masses(bench):
    entries = bench.store.entries(kind=MassCaptured.kind)
    return [entry.event for entry in entries]


def test_one_that_hangs_at_the_target_gives_no_mass(still):
    pour(still, present_pour(still.session).goal_kg)
    still.world.scale.frozen = True
    still.world.model.oil_kg += 0.02
    act(still, "capture")
    still.run(10)
    assert masses(still) == []
    assert TOUCH in lines(still)
    press(still)
    assert masses(still) == [], "it does not answer"
    still.world.scale.frozen = False
    still.run(4)
    assert masses(still) == [], "what it shows now was never touched"
    press(still)
    (mass,) = masses(still)
    assert mass.shown_kg == pytest.approx(present_pour(still.session).goal_kg + 0.02, abs=2e-3)
    assert still.session.unit().current.kind is StepKind.WEIGH, "too much is in it"


def test_one_that_answers_is_captured_and_the_record_says_so(still):
    pour(still, present_pour(still.session).goal_kg)
    act(still, "capture")
    still.run(4)
    press(still)
    (mass,) = masses(still)
    assert mass.alive == Alive.TOUCH
    unit = still.session.unit().unit_id
    still.work_to(StepKind.BLEED)
    still.world.scale.noise_kg = 1.5e-5
    still.work_to(None)
    record = filed_record(still.store, unit).record
    assert [c.alive for c in record.oil.captures] == ["touch", "digits"]
    said, other = weighing_lines(record.oil, METRIC)
    assert "no digit changed; it answered a touch" in said
    assert "touch" not in other
