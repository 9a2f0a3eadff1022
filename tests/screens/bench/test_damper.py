"""The living damper: lit by the step, oil by the scale, gas by the gauge, the valve by words."""

import pytest

from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import METRIC
from benchstation.screens.bench.damper import about
from benchstation.screens.bench.page import bench_view
from benchstation.screens.model.damper import (
    FLOATING,
    NITROGEN,
    OIL,
    OPEN,
    PISTON,
    ROD,
    SHUT,
    WHOLE,
)
from tests.stepped_bench import make_bench


@pytest.fixture
def bench(tmp_path):
    made = make_bench(tmp_path)
    yield made
    made.store.close()


def seen(bench):
    return bench_view(bench.session, METRIC).damper


def test_without_a_unit_there_is_no_drawing(bench):
    assert seen(bench) is None


def test_the_piston_that_is_measured_has_its_dimension(bench):
    bench.work_to(StepKind.MEASURE)
    step = bench.session.rebuild.current
    assert "piston" in step.title.casefold()
    assert (seen(bench).lit, seen(bench).measured) == (FLOATING, True)


def test_oil_rises_with_the_scale_and_is_drawn_again_only_when_it_does(bench):
    bench.work_to(StepKind.WEIGH)
    before = seen(bench)
    assert before.lit == OIL
    assert before.oil == 0.0
    bench.run(0.2)
    assert seen(bench) == before
    bench.work_to(StepKind.CHARGE)
    assert seen(bench).oil == 1.0


def test_gas_fills_with_the_gauge_and_the_valve_is_as_the_words_say(bench):
    bench.work_to(StepKind.CHARGE)
    assert (seen(bench).lit, seen(bench).gas, seen(bench).valve) == (NITROGEN, 0.0, OPEN)
    model = bench.world.model
    model.regulator_gauge_pa, model.valve_opening = 25e5, 1.0
    bench.until(lambda: bench.session.gauge.instrument.latest().value > 16.5e5)
    model.valve_opening = 0.0
    bench.run(3)
    after = seen(bench)
    assert after.gas > 0.8
    assert after.valve == SHUT
    assert after.lit_words.endswith("bar gauge")


LIT = {
    "release": NITROGEN,
    "rod": ROD,
    "found": NITROGEN,
    "stack_found": PISTON,
    "stack_built": PISTON,
    "seat": PISTON,
    "piston": FLOATING,
    "oil": OIL,
    "bleed": OIL,
    "screw": OIL,
    "charge": NITROGEN,
    "seal": NITROGEN,
    "function": ROD,
    "push": ROD,
    "second": NITROGEN,
}
"""What each step is about; all others are about the whole unit."""


def test_every_step_of_every_family_lights_its_part(bench):
    steps = [step for s in bench.session.shop.current_specifications() for step in s.steps]
    assert len(steps) > 50
    assert {step.id: about(step) for step in steps} == {
        step.id: LIT.get(step.id, WHOLE) for step in steps
    }


def test_the_piston_stands_by_the_specified_fill_until_oil_is_weighed(bench):
    bench.work_to(StepKind.WEIGH)
    before = seen(bench)
    assert before.rests_on == "piston by the specified fill"
    bench.work_to(StepKind.CHARGE)
    after, rebuild = seen(bench), bench.session.rebuild
    judged, geometry = rebuild.oil_judged(StepKind.BLEED), rebuild.specification.geometry
    assert (
        after.rests_on == f"piston by {METRIC.volume(judged.net_volume_ref_m3)} of oil as weighed"
    )
    less_m = (
        judged.net_volume_ref_m3 - rebuild.specification.oil.volume
    ) / geometry.model().bore_area_m2
    moved = before.drawing.floating_to - after.drawing.floating_to
    assert moved == pytest.approx(less_m, abs=1e-6)


def test_the_valve_is_shut_wherever_no_gas_is_to_come_in(bench):
    bench.work_to(StepKind.RELEASE)
    assert (seen(bench).lit, seen(bench).valve) == (NITROGEN, SHUT)
    bench.work_to(StepKind.WEIGH)
    assert seen(bench).valve == ""
