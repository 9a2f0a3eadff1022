"""Stories of the oil weigh-in by loss and by difference, and what the screen says of them."""

from dataclasses import replace

import pytest

from benchstation.bench.capture.weighing import WeighPlan
from benchstation.domain.events import MethodChosen, TareLost
from benchstation.domain.oil_balance import SIGNS
from benchstation.domain.specification import Method, StepKind
from benchstation.domain.statements import Code
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.screens.bench.weigh_words import GO, NOUN, TO_GO, TOO_MUCH, instruction, put
from tests.oil_hands import (
    LIFT,
    act,
    capture,
    enabled,
    goal,
    judged,
    lines,
    pour,
    restart,
    tare,
    view,
)

# --- loss ----------------------------------------------------------------------------------------


def test_loss_shows_what_was_poured_and_turns_the_words_round(bench):
    bench.work_to(StepKind.WEIGH)
    assert act(bench, "by_loss").startswith("Weighing in by loss")
    assert lines(bench)[0] == "put the full jug on the scale, then tare"
    tare(bench, "jug")
    pour(bench, goal(bench) - 0.050)
    seen = view(bench)
    assert seen.task.big.caption == "to go"
    assert float(seen.task.big.number) == pytest.approx(50.0, abs=0.4)
    assert seen.task.lanes[0].value == pytest.approx(1e3 * (goal(bench) - 0.05), abs=0.4)
    assert bench.session.scale.instrument.latest().value < 0, "the scale itself shows a loss"
    (chosen,) = bench.store.entries(kind=MethodChosen.kind)
    assert chosen.event.method == "loss"


def test_an_overfill_by_loss_is_poured_back_into_the_jug(bench):
    bench.work_to(StepKind.WEIGH)
    act(bench, "by_loss")
    tare(bench, "jug")
    pour(bench, goal(bench) + 0.004)
    assert lines(bench)[0] == "pour back into the jug"
    assert view(bench).task.big.caption == "too much"
    capture(bench)
    assert judged(bench).decision == "fail"
    assert (
        "too much oil. Pour some back into the jug and capture again" in bench.session.message.text
    )
    bench.world.model.take_out(0.004)
    bench.run(3)
    capture(bench)
    assert bench.session.rebuild.current.kind is StepKind.BLEED
    assert [a.decision for a in bench.session.rebuild.attempts] == ["fail", "pass"]
    assert judged(bench).net_shown_kg == pytest.approx(bench.world.model.oil_kg * LIFT, abs=2e-4)


def test_more_than_at_the_tare_is_no_pour_by_loss(bench):
    bench.work_to(StepKind.WEIGH)
    act(bench, "by_loss")
    tare(bench, "jug")
    for _ in range(20):
        bench.world.model.jug_kg += 1e-4
        bench.run(0.1)
    bench.run(3)
    act(bench, "capture")
    bench.run(4)
    assert not bench.session.rebuild.captures
    assert "more than at the tare" in bench.session.message.text


def test_a_jug_lifted_to_pour_comes_back_lighter(bench):
    bench.work_to(StepKind.WEIGH)
    act(bench, "by_loss")
    tare(bench, "jug")
    model = bench.world.model
    model.put_on_pan("nothing")
    bench.run(2)
    assert lines(bench)[0] == "jug lifted: put it back alone, or tare again"
    assert view(bench).task.big.caption == "on the scale", "what is lifted is no oil"
    assert view(bench).task.lanes[0].value is None
    assert view(bench).task.urge == 0
    with pytest.raises(NotAllowedError, match="put on the scale or lifted off"):
        act(bench, "capture")
    poured = goal(bench)
    model.oil_kg += poured
    model.jug_kg -= poured
    model.put_on_pan("jug")
    bench.run(3)
    assert bench.session.work.weighing.jumped_from_kg is None
    capture(bench)
    assert bench.session.rebuild.current.kind is StepKind.BLEED


def test_another_thing_in_place_of_the_jug_is_not_captured(bench):
    bench.work_to(StepKind.WEIGH)
    act(bench, "by_loss")
    tare(bench, "jug")
    bench.world.model.put_on_pan("tray")
    bench.run(3)
    with pytest.raises(NotAllowedError, match="put on the scale or lifted off"):
        act(bench, "capture")


# --- difference ----------------------------------------------------------------------------------


def weigh_before(bench):
    act(bench, "by_difference")
    assert lines(bench)[0] == "clear the scale, then tare"
    tare(bench, "nothing")
    assert "put the unit on, then capture" in lines(bench)[0]
    bench.world.model.put_on_pan("body")
    bench.run(3)
    capture(bench)


def test_by_difference_the_scale_is_free_between_the_two(bench):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    assert bench.session.rebuild.tare is None, "the zero is proven again before the unit comes back"
    assert lines(bench)[0] == "pour, clear the scale, then tare"
    model = bench.world.model
    wanted = goal(bench)
    for what in ("check weight", "nothing", "jug", "nothing"):
        model.put_on_pan(what)
        bench.run(2)
    model.oil_kg += wanted / LIFT
    tare(bench, "nothing")
    assert lines(bench)[0] == "put the same unit back on the scale"
    model.put_on_pan("body")
    bench.run(3)
    assert lines(bench)[0] == "in the window: capture"
    capture(bench)
    pours = [c.event for c in bench.session.rebuild.captures]
    assert [c.purpose for c in pours] == ["before", "pour"]
    assert pours[1].shown_kg == pytest.approx(wanted, abs=1e-4)
    assert bench.session.rebuild.current.kind is StepKind.BLEED


@pytest.mark.parametrize(
    ("what", "said"), [("nothing", "less than before the pour"), ("tray", "less than before")]
)
def test_a_unit_lifted_or_another_thing_is_no_after(bench, what, said):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    bench.world.model.oil_kg += goal(bench)
    tare(bench, "nothing")
    bench.world.model.put_on_pan(what)
    bench.run(3)
    act(bench, "capture")
    bench.run(4)
    assert len(bench.session.rebuild.captures) == 1
    assert said in bench.session.message.text
    assert bench.session.message.needs_attention


def test_a_jug_left_beside_the_unit_is_no_oil(bench):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.world.model.oil_kg += 0.9
    bench.run(3)
    act(bench, "capture")
    bench.run(4)
    assert "more than before the pour" in bench.session.message.text
    assert len(bench.session.rebuild.captures) == 1


def test_an_empty_scale_is_no_unit_before(bench):
    bench.work_to(StepKind.WEIGH)
    act(bench, "by_difference")
    tare(bench, "nothing")
    act(bench, "capture")
    bench.run(4)
    assert "no unit is on it" in bench.session.message.text
    assert not bench.session.rebuild.captures


def test_the_unit_before_outlives_a_restart_but_the_zero_does_not(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    wanted = goal(bench)
    again = restart(bench, tmp_path)
    try:
        assert again.session.work.weighing.plan.before_kg == pytest.approx(0.9, abs=2e-4)
        with pytest.raises(NotAllowedError, match="tare is not proven"):
            act(again, "capture")
        again.world.model.oil_kg += wanted / LIFT
        tare(again, "nothing")
        again.world.model.put_on_pan("body")
        again.run(3)
        capture(again)
        assert again.session.rebuild.current.kind is StepKind.BLEED
    finally:
        again.store.close()


def test_with_another_scale_the_unit_before_counts_no_more(bench):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    bench.session.scale.registered = replace(
        bench.session.scale.registered, instrument_id="scale-2"
    )
    act(bench, "main")
    assert bench.session.work.weighing.wants_before


def test_going_back_a_step_forgets_the_unit_before(bench):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    act(bench, "back", reason="piston again")
    assert not bench.session.rebuild.captures
    assert bench.session.rebuild.method is Method.GAIN


def test_weighed_again_by_difference_it_stands_on_the_same_before(bench):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    bench.world.model.oil_kg += goal(bench) + 0.003
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.run(3)
    capture(bench)
    assert judged(bench).decision == "fail"
    act(bench, "again")
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.world.model.take_out(0.003)
    bench.run(3)
    capture(bench)
    assert len(bench.session.rebuild.counting) == 1
    assert bench.session.rebuild.current.kind is StepKind.BLEED


def test_a_pour_that_passed_is_weighed_again_against_the_same_before(bench):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    bench.world.model.oil_kg += goal(bench) / LIFT
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.run(3)
    capture(bench)
    act(bench, "back", reason="was the jug dripping?")
    assert bench.session.rebuild.current.kind is StepKind.WEIGH
    assert bench.session.rebuild.counting == ()
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.run(3)
    capture(bench)
    assert bench.session.rebuild.current.kind is StepKind.BLEED
    assert [a.decision for a in bench.session.rebuild.attempts] == ["pass", "pass"]
    assert len(bench.session.rebuild.counting) == 1


def test_once_the_unit_is_closed_the_before_counts_no_more(bench):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    bench.world.model.oil_kg += goal(bench) / LIFT
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.run(3)
    capture(bench)
    bench.work_to(StepKind.CHARGE)
    act(bench, "back", step="oil", reason="valve forgotten")
    assert bench.session.rebuild.current.kind is StepKind.WEIGH
    assert bench.session.work.weighing.wants_before


# --- choosing ------------------------------------------------------------------------------------


def test_the_method_is_chosen_before_anything_is_captured(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, goal(bench) - 0.01)
    capture(bench)
    with pytest.raises(NotAllowedError, match="captured by this method already"):
        act(bench, "by_loss")
    act(bench, "ways")
    assert not enabled(bench, "by_loss")
    act(bench, "leave")
    assert enabled(bench, "capture")


def test_another_method_costs_the_tare(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    act(bench, "by_loss")
    (lost,) = bench.store.entries(kind=TareLost.kind)
    assert lost.event.reason.code is Code.OTHER_METHOD
    assert bench.session.rebuild.tare is None


def test_a_family_that_weighs_by_loss_does_so_from_the_start(bench):
    bench.work_to(StepKind.WEIGH, family="sledge-36")
    assert bench.session.work.weighing.plan.method is Method.LOSS
    assert lines(bench)[0] == "put the full jug on the scale, then tare"


# --- the screen ----------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [StepKind.WEIGH, StepKind.BLEED])
@pytest.mark.parametrize("sheet", ["", "ways", "lot", "hand"])
def test_no_key_means_two_things_and_what_is_not_possible_says_why(bench, kind, sheet):
    bench.work_to(kind)
    bench.session.work.show_form(sheet)
    for purpose in ("main", "spill", *(["topup"] if kind is StepKind.BLEED else [])):
        try:
            act(bench, purpose)
        except NotAllowedError:
            continue
        bench.session.work.show_form(sheet)
        seen = view(bench)
        every = (*seen.task.actions, *seen.side_actions)
        keys = [a.key for a in every]
        assert len(set(keys)) == len(keys)
        assert all(a.enabled or a.why_not for a in every)
        assert all(a.id in bench.session.commands for a in seen.task.actions)


def test_words_are_there_for_every_purpose_and_method(bench):
    plans = [WeighPlan(p, m) for p in SIGNS for m in (list(Method) if p.adds else [Method.GAIN])]
    step = bench.session.shop.specifications["mr-46-front", 1].step_of(StepKind.WEIGH)
    for plan in plans:
        said = (put(plan), instruction(step, plan), TOO_MUCH[plan.purpose, plan.method])
        assert all(said)
        assert all(table[plan.purpose] for table in (GO, NOUN, TO_GO))
