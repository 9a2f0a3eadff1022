"""Oil that runs off before the tare is not lost in silence."""

import pytest

from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from tests.oil_hands import act, capture, enabled, goal, judged, lines, tare

SAID = "bleed nothing before the tare: it would not be recorded"


@pytest.fixture
def bleeding(bench):
    """At the bleed step with the tray on the scale and no tare yet."""
    bench.work_to(StepKind.BLEED)
    bench.sign_in()
    bench.world.model.put_on_pan("tray")
    bench.run(4)
    return bench


def run_off(bench, kg, rate_kg_s=0.005):
    while kg > 0:
        part = min(rate_kg_s / 10, kg)
        bench.world.model.bleed(part)
        kg -= part
        bench.run(0.1)
    bench.run(4)


def test_the_page_asks_for_the_tare_before_anything_runs_off(bleeding):
    assert lines(bleeding)[:2] == ["put the tray on the scale, then tare", SAID]
    tare(bleeding, "tray")
    assert SAID not in lines(bleeding)


@pytest.mark.parametrize("rate", [0.02, 0.005, 0.0004], ids=["pours", "runs", "drips"])
def test_what_runs_into_the_tray_before_the_tare_is_told(bleeding, rate):
    run_off(bleeding, 0.004, rate)
    assert bleeding.session.work.weighing.uncaptured_kg == pytest.approx(0.004, abs=0.0012)
    assert "about 4 g are not captured: undo that first" in lines(bleeding)
    assert not enabled(bleeding, "nothing_bled")
    with pytest.raises(
        NotAllowedError, match=r"about 4 g were bled and are not captured"
    ) as refused:
        act(bleeding, "nothing_bled")
    assert "Put back what is not captured" in refused.value.advice
    assert "About 4 g were not captured: undo that first" in act(bleeding, "tare")


def test_put_back_and_let_off_after_the_tare_all_of_it_counts(bleeding):
    run_off(bleeding, 0.004)
    model = bleeding.world.model
    model.oil_kg, model.tray_kg = model.oil_kg + model.tray_kg, 0.0
    bleeding.run(3)
    tare(bleeding, "tray")
    run_off(bleeding, goal(bleeding))
    capture(bleeding)
    assert judged(bleeding, StepKind.BLEED).decision == "pass"


def test_it_is_told_of_after_the_unit_lay_aside(bleeding):
    run_off(bleeding, 0.004)
    unit = bleeding.session.unit().unit_id
    act(bleeding, "set_aside", reason="waits")
    assert "About 4 g are not captured" in act(bleeding, "fetch", unit=unit)


def test_putting_things_on_the_scale_is_no_oil(bench):
    bench.work_to(StepKind.BLEED)
    for what in ("tray", "nothing", "check weight", "tray", "drip tray", "unit"):
        bench.world.model.put_on_pan(what)
        bench.run(4)
        assert not bench.session.work.weighing.uncaptured
