"""Stories of oil in portions: from two lots, topped up, spilled, weighed again, cut short."""

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.tare_loss import lose_tare
from benchstation.bench.targets import oil_in_unit
from benchstation.demo import shop as demo
from benchstation.domain.events import LotChosen, MassCaptured
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.store.queries import units_with_lot
from benchstation.store.search import find_units
from tests.oil_hands import (
    LIFT,
    act,
    capture,
    goal,
    judged,
    lines,
    pour,
    restart,
    tare,
    terms,
    view,
)

# --- two lots ------------------------------------------------------------------------------------


def test_a_lot_that_was_withdrawn_is_not_offered_for_the_rest(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.100)
    bench.sign_in(demo.LEAD)
    bench.session.act(
        "withdraw_lot", {**demo.SIGNED, "lot_open": "L-0421", "reason": "water in it"}
    )
    with pytest.raises(NotAllowedError, match="no other lot of this oil"):
        act(bench, "other_lot")
    with pytest.raises(NotAllowedError, match="no other lot of this oil"):
        act(bench, "pour_rest", lot="L-0421")
    assert bench.session.work.weighing.phase is Phase.POURING, "the pour goes on"


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
    bench.until(lambda: bool(bench.session.rebuild.captures))
    assert bench.session.work.weighing.phase is Phase.NEED_TARE
    assert bench.session.rebuild.current.kind is StepKind.WEIGH
    part = bench.session.rebuild.captures[0].event
    assert (part.oil_lot, bench.session.rebuild.oil_lot) == ("L-0417", "L-0421")
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
    names = {row.name for row in judged(bench).budget}
    assert {"oil_density: L-0417", "oil_density: L-0421"} <= names
    mixed = oil_in_unit(bench.session)
    assert 851.3 < mixed.rho15_kg_m3 < 853.9


def test_a_unit_of_two_lots_is_found_by_either(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.100)
    act(bench, "pour_rest", lot="L-0421")
    bench.until(lambda: bool(bench.session.rebuild.captures))
    bench.work_to(None)
    unit = bench.session.rebuild.unit_id
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
    bench.until(lambda: bool(bench.session.rebuild.captures))
    wanted = goal(bench)
    again = restart(bench, tmp_path)
    try:
        assert again.session.rebuild.oil_lot == "L-0421"
        assert goal(again) == pytest.approx(wanted, abs=1e-9)
        assert again.session.work.weighing.phase is Phase.NEED_TARE
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
        assert again.session.rebuild.current.kind is StepKind.BLEED
        assert judged(again).budget[0].sensitivity == pytest.approx(4**0.5)
    finally:
        again.store.close()


def test_an_overfill_after_a_lost_tare_is_taken_off_on_the_drip_tray(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, goal(bench) + 0.004)
    capture(bench)
    lose_tare(bench.session, Statement(Code.LINE_LOST))
    act(bench, "spill")
    assert lines(bench)[0] == "put the clean drip tray on the scale, then tare"
    tare(bench, "drip tray")
    assert view(bench).task.big.caption == "still to take out"
    bench.world.model.take_out(goal(bench) / LIFT)
    bench.run(3)
    capture(bench)
    assert bench.session.rebuild.current.kind is StepKind.BLEED
    assert [c.purpose for c in bench.session.rebuild.counting] == ["pour", "spill"]


def test_bled_too_much_is_topped_up(bench):
    bench.work_to(StepKind.BLEED)
    tare(bench, "tray")
    bench.world.model.bleed(goal(bench) + 0.005)
    bench.run(3)
    assert lines(bench)[0] == "bled too much: top up"
    capture(bench)
    assert judged(bench, StepKind.BLEED).decision == "fail"
    assert "too little oil. Top up: too much was bled" in bench.session.message.text
    assert any(line.endswith("too little oil") for line in lines(bench))
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
    assert result.budget[0].sensitivity == pytest.approx(6**0.5)
    assert "bleed" in bench.session.rebuild.signatures


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
        assert again.session.rebuild.tare is None
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
    first = bench.session.rebuild.captures[0].event
    act(bench, "again")
    assert bench.session.rebuild.counting == (first,), "it counts until there is another"
    bench.world.model.oil_kg = 0.0
    tare(bench, "body")
    pour(bench, goal(bench) / LIFT)
    capture(bench)
    assert judged(bench).decision == "pass"
    assert len(bench.store.entries(kind=MassCaptured.kind)) == 2
    assert first not in bench.session.rebuild.counting
    assert [a.decision for a in bench.session.rebuild.attempts] == ["fail", "pass"]


def test_a_restart_before_the_second_capture_keeps_the_first(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, goal(bench) - 0.010)
    capture(bench)
    act(bench, "again")
    again = restart(bench, tmp_path)
    try:
        assert len(again.session.rebuild.counting) == 1
        assert not again.session.work.weighing.plan.again
    finally:
        again.store.close()


def test_every_weighing_stands_in_the_why_panel(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, goal(bench) - 0.010)
    capture(bench)
    act(bench, "again")
    bench.world.model.take_out(bench.world.model.oil_kg)
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
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.run(0.2)
    assert "About 80 g are not captured" in bench.session.message.text
    assert lines(bench)[1] == "about 80 g are not captured: undo that first"
    bench.world.model.take_out(0.080)
    tare(bench, "body")
    assert not bench.session.work.weighing.uncaptured
    pour(bench, 0.050)
    capture(bench)
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.run(0.2)
    assert "not captured" not in bench.session.message.text, "all of it is captured"
