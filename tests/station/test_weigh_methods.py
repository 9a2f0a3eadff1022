"""Stories of the oil weigh-in: by loss and difference, from two lots, topped up, weighed again."""

from dataclasses import replace

import pytest

from benchstation.rebuild.commands import NotAllowedError
from benchstation.rebuild.events import LotChosen, MassCaptured, MethodChosen, TareLost
from benchstation.rebuild.oil_balance import SIGNS
from benchstation.rebuild.rebuild import fold
from benchstation.rebuild.specification import Method, StepKind
from benchstation.station.views.bench import bench_view
from benchstation.station.views.weigh_words import GO, NOUN, TO_GO, TOO_MUCH, instruction, put
from benchstation.station.weighing import Phase, WeighPlan
from benchstation.store.queries import find_units, units_with_lot
from benchstation.units import UnitSystem
from benchstation.words import Words
from tests.stepped_bench import make_bench

LIFT = (1 - 1.19 / 847.3) / (1 - 1.19 / 8000)


def act(bench, action, **fields):
    return bench.desk.act(action, fields)


def view(bench):
    return bench_view(bench.desk, Words(UnitSystem.METRIC))


def lines(bench):
    return [text for text, _ in view(bench).task.lines]


def enabled(bench, action):
    return next(a.enabled for a in view(bench).task.actions if a.id == action)


def terms(bench, title):
    group = next(g for g in view(bench).why if g.title == title)
    return [(t.label, t.value, t.source) for t in group.terms]


def tare(bench, what):
    bench.world.model.put_on_pan(what)
    bench.run(2)
    act(bench, "tare")
    bench.until(lambda: bench.desk.weighing.phase is Phase.POURING)


def capture(bench):
    count = len(bench.desk.rebuild.captures)
    act(bench, "capture")
    bench.until(lambda: len(bench.desk.rebuild.captures) > count)


def pour(bench, kg):
    """Pour as a hand does; the jug gives it when it stands on the scale."""
    model, left = bench.world.model, kg
    while left > 0:
        part = min(0.002, left)
        model.oil_kg += part
        if model.on_pan == "jug":
            model.jug_kg -= part
        left -= part
        bench.run(0.1)
    bench.run(3)


def goal(bench):
    return bench.desk.standing().goal_kg


def judged(bench, kind=StepKind.WEIGH):
    return bench.desk.rebuild.oil_judged(kind)


def restart(bench, folder):
    """Kill the station and start it anew, with the virtual bench as it stands."""
    bench.store.close()
    again = make_bench(folder)
    again.world.model.__dict__.update(
        {k: v for k, v in bench.world.model.__dict__.items() if k not in ("lock", "_t")}
    )
    again.run(2)
    again.desk.recover()
    again.sign_in()
    unit = again.desk.rebuild
    entries = again.store.entries(unit_id=unit.unit_id)
    assert fold(entries, unit.specification) == unit
    return again


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
    assert bench.desk.scale.instrument.latest().value < 0, "the scale itself shows a loss"
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
    bench.world.model.take_out(0.004)
    bench.run(3)
    capture(bench)
    assert bench.desk.rebuild.current.kind is StepKind.BLEED
    assert [a.decision for a in bench.desk.rebuild.attempts] == ["fail", "pass"]
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
    assert not bench.desk.rebuild.captures
    assert "more than at the tare" in bench.desk.message


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
    assert bench.desk.weighing.jumped_from_kg is None
    capture(bench)
    assert bench.desk.rebuild.current.kind is StepKind.BLEED


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
    assert bench.desk.rebuild.tare is None, "the zero is proven anew before the unit comes back"
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
    assert lines(bench)[0] == "inside: capture"
    capture(bench)
    pours = [c.event for c in bench.desk.rebuild.captures]
    assert [c.purpose for c in pours] == ["before", "pour"]
    assert pours[1].shown_kg == pytest.approx(wanted, abs=1e-4)
    assert bench.desk.rebuild.current.kind is StepKind.BLEED


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
    assert len(bench.desk.rebuild.captures) == 1
    assert said in bench.desk.message
    assert bench.desk.concern


def test_a_jug_left_beside_the_unit_is_no_oil(bench):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.world.model.oil_kg += 0.9
    bench.run(3)
    act(bench, "capture")
    bench.run(4)
    assert "more than before the pour" in bench.desk.message
    assert len(bench.desk.rebuild.captures) == 1


def test_an_empty_scale_is_no_unit_before(bench):
    bench.work_to(StepKind.WEIGH)
    act(bench, "by_difference")
    tare(bench, "nothing")
    act(bench, "capture")
    bench.run(4)
    assert "no unit is on it" in bench.desk.message
    assert not bench.desk.rebuild.captures


def test_the_unit_before_outlives_a_restart_but_the_zero_does_not(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    wanted = goal(bench)
    again = restart(bench, tmp_path)
    try:
        assert again.desk.weighing.plan.before_kg == pytest.approx(0.9, abs=2e-4)
        with pytest.raises(NotAllowedError, match="tare is not proven"):
            act(again, "capture")
        again.world.model.oil_kg += wanted / LIFT
        tare(again, "nothing")
        again.world.model.put_on_pan("body")
        again.run(3)
        capture(again)
        assert again.desk.rebuild.current.kind is StepKind.BLEED
    finally:
        again.store.close()


def test_with_another_scale_the_unit_before_counts_no_more(bench):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    bench.desk.scale.registered = replace(bench.desk.scale.registered, instrument_id="scale-2")
    act(bench, "main")
    assert bench.desk.weighing.wants_before


def test_going_back_a_step_forgets_the_unit_before(bench):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    act(bench, "back", reason="piston again")
    assert not bench.desk.rebuild.captures
    assert bench.desk.rebuild.method is Method.GAIN


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
    assert len(bench.desk.rebuild.counting) == 1
    assert bench.desk.rebuild.current.kind is StepKind.BLEED


def test_a_pour_that_passed_is_weighed_again_against_the_same_before(bench):
    bench.work_to(StepKind.WEIGH)
    weigh_before(bench)
    bench.world.model.oil_kg += goal(bench) / LIFT
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.run(3)
    capture(bench)
    act(bench, "back", reason="was the jug dripping?")
    assert bench.desk.rebuild.current.kind is StepKind.WEIGH
    assert bench.desk.rebuild.counting == ()
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.run(3)
    capture(bench)
    assert bench.desk.rebuild.current.kind is StepKind.BLEED
    assert [a.decision for a in bench.desk.rebuild.attempts] == ["pass", "pass"]
    assert len(bench.desk.rebuild.counting) == 1


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
    assert bench.desk.rebuild.current.kind is StepKind.WEIGH
    assert bench.desk.weighing.wants_before


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
    assert "another method" in lost.event.reason
    assert bench.desk.rebuild.tare is None


def test_a_family_that_weighs_by_loss_does_so_from_the_start(bench):
    bench.work_to(StepKind.WEIGH, family="sledge-36")
    assert bench.desk.weighing.plan.method is Method.LOSS
    assert lines(bench)[0] == "put the full jug on the scale, then tare"


# --- two lots ------------------------------------------------------------------------------------


def test_the_rest_comes_from_another_lot(bench):
    bench.work_to(StepKind.WEIGH)
    with pytest.raises(NotAllowedError, match="tare is not proven"):
        act(bench, "pour_rest", lot="L-0421")
    tare(bench, "body")
    pour(bench, 0.100)
    act(bench, "other_lot")
    seen = view(bench)
    assert [value for value, _ in seen.task.fields[0].choices] == ["L-0421"]
    with pytest.raises(NotAllowedError, match="no other lot of the same oil"):
        act(bench, "pour_rest", lot="L-0432")
    act(bench, "pour_rest", lot="L-0421")
    bench.until(lambda: bool(bench.desk.rebuild.captures))
    assert bench.desk.weighing.phase is Phase.NEED_TARE
    assert bench.desk.rebuild.current.kind is StepKind.WEIGH
    part = bench.desk.rebuild.captures[0].event
    assert (part.oil_lot, bench.desk.rebuild.oil_lot) == ("L-0417", "L-0421")
    # By hand: 265.5 mL less 100 g / (0.99874 * 848.16 kg/m3), times 850.77 kg/m3 (ASTM D1250-04,
    # a = 0.6278/853.9 per K from 15 to 20 degC) and the buoyancy 0.99874.
    left = (265.5e-6 - part.shown_kg / 0.998741 / 848.16) * 850.77 * 0.998745
    assert goal(bench) == pytest.approx(left, abs=2e-5)
    assert any(text.startswith("counts already: pour ") for text in lines(bench))
    tare(bench, "body")
    pour(bench, goal(bench) / LIFT)
    capture(bench)
    assert judged(bench).decision == "pass"
    assert judged(bench).net_volume_ref_m3 == pytest.approx(265.5e-6, abs=2e-7)
    names = {row["name"] for row in judged(bench).budget}
    assert {"density of the oil lot L-0417", "density of the oil lot L-0421"} <= names
    mixed = bench.desk.oil()
    assert 851.3 < mixed.rho15_kg_m3 < 853.9


def test_a_unit_of_two_lots_is_found_by_either(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.100)
    act(bench, "pour_rest", lot="L-0421")
    bench.until(lambda: bool(bench.desk.rebuild.captures))
    bench.work_to(None)
    unit = bench.desk.rebuild.unit_id
    for lot in ("L-0417", "L-0421"):
        assert [u.unit_id for u in find_units(bench.store, lot)] == [unit]
        assert [u.unit_id for u in units_with_lot(bench.store, lot)] == [unit]
    oil = bench.store.entries(kind="unit.filed")[0].event.record["oil"]
    assert [lot["lot"] for lot in oil["lots"]] == ["L-0417", "L-0421"]
    volume = sum(lot["added_volume_ref_m3"] for lot in oil["lots"])
    assert volume == pytest.approx(265.5e-6, abs=2e-6)
    assert len([c for c in oil["captures"] if c["purpose"] == "pour" and c["counts"]]) == 2


def test_a_restart_between_two_lots_goes_on_with_the_second(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.100)
    act(bench, "pour_rest", lot="L-0421")
    bench.until(lambda: bool(bench.desk.rebuild.captures))
    wanted = goal(bench)
    again = restart(bench, tmp_path)
    try:
        assert again.desk.rebuild.oil_lot == "L-0421"
        assert goal(again) == pytest.approx(wanted, abs=1e-9)
        assert again.desk.weighing.phase is Phase.NEED_TARE
        assert again.store.entries(kind=LotChosen.kind)
    finally:
        again.store.close()


# --- more portions, top-up, spill ----------------------------------------------------------------


def test_what_is_poured_after_a_new_tare_adds(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, goal(bench) - 0.010)
    capture(bench)
    again = restart(bench, tmp_path)
    try:
        assert goal(again) == pytest.approx(0.010, abs=3e-4)
        tare(again, "body")
        pour(again, goal(again) / LIFT)
        capture(again)
        assert again.desk.rebuild.current.kind is StepKind.BLEED
        assert judged(again).budget[0]["sensitivity"] == pytest.approx(4**0.5)
    finally:
        again.store.close()


def test_an_overfill_after_a_lost_tare_is_taken_off_on_the_drip_tray(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, goal(bench) + 0.004)
    capture(bench)
    bench.desk.lose_tare("the line was lost")
    act(bench, "spill")
    assert lines(bench)[0] == "put the clean drip tray on the scale, then tare"
    tare(bench, "drip tray")
    assert view(bench).task.big.caption == "still to take off"
    bench.world.model.take_out(goal(bench) / LIFT)
    bench.run(3)
    capture(bench)
    assert bench.desk.rebuild.current.kind is StepKind.BLEED
    assert [c.purpose for c in bench.desk.rebuild.counting] == ["pour", "spill"]


def test_bled_too_much_is_topped_up(bench):
    bench.work_to(StepKind.BLEED)
    tare(bench, "tray")
    bench.world.model.bleed(goal(bench) + 0.005)
    bench.run(3)
    assert lines(bench)[0] == "bled too much: top up"
    capture(bench)
    assert judged(bench, StepKind.BLEED).decision == "fail"
    act(bench, "topup")
    assert lines(bench)[0] == "put the unit on the scale, then tare"
    assert goal(bench) == pytest.approx(0.005, abs=3e-4)
    tare(bench, "unit")
    pour(bench, goal(bench) / LIFT)
    capture(bench)
    result = judged(bench, StepKind.BLEED)
    assert result.decision == "pass"
    assert result.net_shown_kg == pytest.approx(bench.world.model.oil_kg * LIFT, abs=2e-4)
    # Pour, bleed and top-up: three tared weighings of two displays.
    assert result.budget[0]["sensitivity"] == pytest.approx(6**0.5)
    assert bench.desk.rebuild.current.kind is StepKind.CHARGE


def test_a_restart_in_the_top_up_loses_nothing_that_was_captured(bench, tmp_path):
    bench.work_to(StepKind.BLEED)
    tare(bench, "tray")
    bench.world.model.bleed(goal(bench) + 0.005)
    bench.run(3)
    capture(bench)
    act(bench, "topup")
    tare(bench, "unit")
    again = restart(bench, tmp_path)
    try:
        assert again.desk.rebuild.tare is None
        act(again, "topup")
        assert goal(again) == pytest.approx(0.005, abs=3e-4)
    finally:
        again.store.close()


def test_nothing_is_taken_off_before_something_was_poured(bench):
    bench.work_to(StepKind.WEIGH)
    with pytest.raises(NotAllowedError, match="nothing is captured yet"):
        act(bench, "spill")
    with pytest.raises(NotAllowedError, match="simply poured"):
        act(bench, "topup")


# --- weighing again ------------------------------------------------------------------------------


def test_weighed_again_the_newest_counts_and_all_is_on_record(bench):
    bench.work_to(StepKind.WEIGH)
    with pytest.raises(NotAllowedError, match="nothing of it is captured yet"):
        act(bench, "again")
    tare(bench, "body")
    pour(bench, goal(bench) - 0.010)
    capture(bench)
    first = bench.desk.rebuild.captures[0].event
    act(bench, "again")
    assert bench.desk.rebuild.counting == (first,), "it counts until there is another"
    bench.world.model.oil_kg = 0.0
    tare(bench, "body")
    pour(bench, goal(bench) / LIFT)
    capture(bench)
    assert judged(bench).decision == "pass"
    assert len(bench.store.entries(kind=MassCaptured.kind)) == 2
    assert first not in bench.desk.rebuild.counting
    assert [a.decision for a in bench.desk.rebuild.attempts] == ["fail", "pass"]


def test_a_restart_before_the_second_capture_keeps_the_first(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, goal(bench) - 0.010)
    capture(bench)
    act(bench, "again")
    again = restart(bench, tmp_path)
    try:
        assert len(again.desk.rebuild.counting) == 1
        assert not again.desk.weighing.plan.again
    finally:
        again.store.close()


def test_every_weighing_stands_in_the_why_panel(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, goal(bench) - 0.010)
    capture(bench)
    act(bench, "again")
    tare(bench, "body")
    pour(bench, 0.05)
    capture(bench)
    found = terms(bench, "Weighings")
    assert found[0] == ("Now", "pour, gain", "from L-0417")
    assert found[1][2] == "gain, L-0417, weighed again since"
    assert found[2][2] == "gain, L-0417"


def test_what_no_capture_holds_is_said_when_the_tare_is_lost(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.080)
    bench.desk.scale.instrument.report_broken("the line was lost")
    bench.run(0.2)
    assert "About 80 g since then are not captured" in bench.desk.message
    assert lines(bench)[1] == "about 80 g are not captured: undo that first"
    bench.world.model.take_out(0.080)
    tare(bench, "body")
    assert not bench.desk.weighing.uncaptured
    pour(bench, 0.050)
    capture(bench)
    bench.desk.scale.instrument.report_broken("the line was lost")
    bench.run(0.2)
    assert "not captured" not in bench.desk.message, "all of it is captured"


# --- the screen ----------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [StepKind.WEIGH, StepKind.BLEED])
@pytest.mark.parametrize("sheet", ["", "ways", "lot", "hand"])
def test_no_key_means_two_things_and_what_is_not_possible_says_why(bench, kind, sheet):
    bench.work_to(kind)
    bench.desk.sheet = sheet
    for purpose in ("main", "spill", *(["topup"] if kind is StepKind.BLEED else [])):
        try:
            act(bench, purpose)
        except NotAllowedError:
            continue
        bench.desk.sheet = sheet
        seen = view(bench)
        every = (*seen.task.actions, *seen.side_actions)
        keys = [a.key for a in every]
        assert len(set(keys)) == len(keys)
        assert all(a.enabled or a.why_not for a in every)
        assert all(a.id in bench.desk.actions for a in seen.task.actions)


def test_words_are_there_for_every_purpose_and_method(bench):
    plans = [WeighPlan(p, m) for p in SIGNS for m in (list(Method) if p.adds else [Method.GAIN])]
    step = bench.desk.shop.specifications["mr-46-front", 1].step_of(StepKind.WEIGH)
    for plan in plans:
        said = (put(plan), instruction(step, plan), TOO_MUCH[plan.purpose, plan.method])
        assert all(said)
        assert all(table[plan.purpose] for table in (GO, NOUN, TO_GO))
