"""A bench with a fine scale of 3 kg and a coarse one of 15 kg: each weighing takes one of them."""

from dataclasses import replace
from importlib.resources import files

import pytest

from benchstation.bench.instrument_checks import check
from benchstation.bench.scale_loss import GIVEN_UP_S
from benchstation.bench.tare_loss import recover
from benchstation.demo import shop as demo
from benchstation.domain.events import MassCaptured, ScaleChosen
from benchstation.domain.specification import Method, StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import METRIC
from benchstation.reports.export import filed_record
from benchstation.screens.bench.instrument_bar import strip
from sample_devices.scale import VirtualScale
from tests.oil_hands import act, capture, goal, lines, pour, tare, terms, view
from tests.stepped_bench import START, Another, make_bench

PROFILE = (files("resources") / "profiles" / "scale-status-first.toml").read_text("utf-8")
FINE, COARSE = "scale-1", "scale-2"
HEAVY_KG = 4.0


def profile(name, high):
    return PROFILE.replace('"scale-status-first"', f'"{name}"').replace("6.2", str(high))


SECOND = Another(
    replace(
        demo.instruments(START.date())["scale"],
        instrument_id=COARSE,
        title="Floor scale, 15 kg",
        profile_id="floor-scale",
        serial_number="S-2",
        gain=1.0,
        u_calibration=1e-4,
    ),
    profile("floor-scale", 15.0),
    lambda model: VirtualScale(model, resolution_kg=1e-4, noise_kg=3e-5, capacity_kg=15.0),
    use="heavy units",
)


def made(folder):
    folder.mkdir(exist_ok=True)
    (folder / "scale-status-first.toml").write_text(profile("scale-status-first", 3.0), "utf-8")
    bench = make_bench(folder, others=[SECOND])
    bench.world.scale.capacity_kg = 3.0
    return bench


@pytest.fixture
def bench(tmp_path):
    bench = made(tmp_path / "bench")
    yield bench
    bench.store.close()


def heavy(bench, stated=True):
    """Work on a family whose unit weighs 4 kg, as its specification says or not."""
    specifications = bench.session.shop.specifications
    for key, one in specifications.items():
        oil = one.oil.model_copy(update={"unit_mass": HEAVY_KG if stated else None})
        specifications[key] = one.model_copy(update={"oil": oil})
    bench.world.model.setup = replace(bench.world.model.setup, body_kg=HEAVY_KG)


def chosen(bench):
    return [
        (e.event.scale_id, e.event.why, e.event.against)
        for e in bench.store.entries(kind=ScaleChosen.kind)
    ]


def to_weigh(bench):
    bench.work_to(StepKind.WEIGH)
    bench.sign_in()


def weighed_on(bench):
    return [e.event.instrument_id for e in bench.store.entries(kind=MassCaptured.kind)]


def test_a_light_unit_is_weighed_on_the_finest(bench):
    to_weigh(bench)
    assert bench.session.scale.id == FINE
    assert chosen(bench) == [(FINE, "finest", {})]
    label, value, source = terms(bench, "Weighings")[1]
    assert (label, value) == ("Scale", "Bench scale, 6 kg")
    assert source == "the finest rated for at least 225.9 g", (
        "the oil: no mass of the unit is stated"
    )
    assert "on Bench scale, 6 kg" in lines(bench)


def test_a_heavy_difference_is_weighed_on_the_one_that_bears_it_and_a_jug_on_the_finest(bench):
    heavy(bench)
    to_weigh(bench)
    act(bench, "by_difference")
    assert bench.session.scale.id == COARSE
    assert chosen(bench)[-1] == (COARSE, "only", {FINE: "too small"})
    assert ("Bench scale, 6 kg", "not taken", "it is not rated for the load") in terms(
        bench, "Weighings"
    )
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.run(3)
    capture(bench)
    assert weighed_on(bench) == [COARSE]
    assert bench.session.rebuild.captures[-1].event.shown_kg == pytest.approx(HEAVY_KG, abs=0.01)
    bench.world.model.put_on_pan("jug")
    bench.run(1)
    act(bench, "by_loss")
    assert bench.session.scale.id == FINE
    tare(bench, "jug")
    pour(bench, goal(bench))
    capture(bench)
    assert weighed_on(bench) == [COARSE, FINE]


def test_the_whole_unit_is_worked_and_each_mass_names_its_scale(bench):
    heavy(bench)
    specifications = bench.session.shop.specifications
    for key, one in specifications.items():
        oil = one.oil.model_copy(update={"method": Method.DIFFERENCE})
        specifications[key] = one.model_copy(update={"oil": oil})
    bench.work_to(None)
    assert bench.session.rebuild.ended == "filed"
    unit_id = bench.session.rebuild.unit_id
    by_purpose = {
        e.event.purpose: e.event.instrument_id for e in bench.store.entries(kind=MassCaptured.kind)
    }
    assert by_purpose["before"] == by_purpose["pour"] == COARSE
    (pour, bleed) = filed_record(bench.store, unit_id).record.oil.scales
    assert (pour.scale_id, pour.why, pour.against) == (COARSE, "only", {FINE: "too small"})
    assert bleed.step_id == "bleed"
    listed = {i.id for i in filed_record(bench.store, unit_id).record.instruments}
    assert listed >= {COARSE, "gauge-1"}


def test_with_its_scale_lost_a_weighing_falls_to_the_other_and_says_so(bench):
    to_weigh(bench)
    bench.unplugged.add("scale")
    bench.run(GIVEN_UP_S + 1)
    assert bench.session.scale.id == COARSE
    assert chosen(bench)[-1] == (COARSE, "only", {FINE: "no reading"})
    assert "Bench scale, 6 kg gives no reading" in bench.session.message.text
    assert "weighed on Floor scale, 15 kg" in bench.session.message.text
    tare(bench, "body")
    pour(bench, goal(bench))
    capture(bench)
    assert weighed_on(bench) == [COARSE]


def test_a_plug_pulled_mid_pour_loses_the_tare_first(bench):
    to_weigh(bench)
    tare(bench, "body")
    pour(bench, 0.05)
    bench.unplugged.add("scale")
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.run(0.5)
    assert bench.session.scale.id == FINE, "a pulled plug may be back at once"
    bench.run(GIVEN_UP_S + 1)
    assert bench.session.scale.id == COARSE
    assert bench.session.work.weighing.uncaptured_kg == pytest.approx(0.05, abs=0.005)
    bench.unplugged.clear()
    bench.run(2)
    assert bench.session.scale.id == COARSE, "it does not jump back by itself"


def test_a_unit_too_heavy_that_nobody_stated_falls_to_the_one_that_bears_it(bench):
    heavy(bench, stated=False)
    to_weigh(bench)
    assert bench.session.scale.id == FINE
    bench.world.model.put_on_pan("body")
    bench.run(GIVEN_UP_S + 1)
    assert bench.session.scale.id == COARSE


def test_an_unfit_scale_is_not_taken(bench):
    fine = bench.session.instruments.named(FINE)
    bench.sign_in()
    bench.world.model.put_on_pan("check weight")
    bench.run(2)
    fine.checked = check(fine, bench.clock.clock.seconds(), 0.201)
    assert not fine.checked.passed
    to_weigh(bench)
    assert bench.session.scale.id == COARSE
    assert chosen(bench) == [(COARSE, "only", {FINE: "unfit"})]


def test_half_a_difference_stays_with_the_scale_that_weighed_the_unit_before(bench):
    """A difference of two scales is no mass of oil: a person says whether to begin anew."""
    to_weigh(bench)
    act(bench, "by_difference")
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.run(2)
    capture(bench)
    bench.unplugged.add("scale")
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.run(GIVEN_UP_S + 2)
    assert bench.session.scale.id == FINE
    act(bench, "use_scale", scale=COARSE)
    assert bench.session.work.weighing.wants_before
    assert any("scale or its calibration changed" in line for line in lines(bench))


def test_a_person_may_choose_another_that_will_do(bench, tmp_path):
    to_weigh(bench)
    act(bench, "ways")
    assert next(a.enabled for a in view(bench).task.actions if a.id == "other_scale")
    act(bench, "other_scale")
    (field,) = view(bench).task.fields
    assert field.choices == ((COARSE, "Floor scale, 15 kg"),)
    act(bench, "use_scale", scale=COARSE)
    assert chosen(bench)[-1] == (COARSE, "chosen", {})
    assert terms(bench, "Weighings")[1] == ("Scale", "Floor scale, 15 kg", "chosen by hand")
    assert "this weighing" in {one.id: one for one in strip(bench.session, METRIC)}[COARSE].words
    tare(bench, "body")
    bench.store.close()
    again = made(tmp_path / "bench")
    recover(again.session)
    assert again.session.scale.id == COARSE, "what a person chose outlives a restart"
    again.store.close()


def test_what_will_not_do_is_refused_in_words(bench):
    heavy(bench)
    to_weigh(bench)
    assert bench.session.scale.id == COARSE
    with pytest.raises(NotAllowedError, match="Bench scale, 6 kg is not chosen: it is not rated"):
        act(bench, "use_scale", scale=FINE)
    with pytest.raises(NotAllowedError, match="no other scale fits"):
        act(bench, "other_scale")
    for name in (COARSE, "gauge-1", ""):
        with pytest.raises(NotAllowedError, match="not another scale of this bench"):
            act(bench, "use_scale", scale=name)


def test_with_one_scale_nothing_is_chosen_and_nothing_said(tmp_path):
    bench = make_bench(tmp_path)
    to_weigh(bench)
    assert chosen(bench) == []
    assert not any(label == "Scale" for label, _, _ in terms(bench, "Weighings"))
    act(bench, "ways")
    assert "other_scale" not in [a.id for a in view(bench).task.actions]
    with pytest.raises(NotAllowedError, match="no other scale fits"):
        act(bench, "other_scale")
    bench.store.close()
