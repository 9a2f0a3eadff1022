"""Stories of oil that no mass holds: no tare counts over it until somebody says it is undone."""

import re

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.commands.capturing import EMPTIED
from benchstation.demo import shop as demo
from benchstation.domain.events import (
    OilUnweighed,
    StepSigned,
    TareLost,
    TareProven,
    UnitFiled,
    event_from,
)
from benchstation.domain.rebuild import fold
from benchstation.domain.specification import StepKind
from benchstation.domain.statement_words import UNDONE
from benchstation.domain.statements import Code, Statement, Undone
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.unit_record import record_in
from benchstation.domain.unweighed import prove_tare
from benchstation.reports.remarks import emptied_lines
from benchstation.screens.model.elements import FieldKind
from tests.oil_hands import act, capture, enabled, goal, lines, pour, restart, tare, view


def told(bench):
    return [e.event for e in bench.store.entries(kind=OilUnweighed.kind)]


def proofs(bench):
    return [e.event for e in bench.store.entries(kind=TareProven.kind)]


def weighs(bench, phase):
    return bench.session.work.weighing.phase is phase


def refused(bench):
    """Press Tare, and again without the confirmation: nothing is tared."""
    assert "Not tared" in act(bench, "tare")
    assert bench.session.work.open_form == EMPTIED
    with pytest.raises(NotAllowedError, match="not confirmed"):
        act(bench, "tare")
    assert weighs(bench, Phase.NEED_TARE)
    bench.run(20)
    assert weighs(bench, Phase.NEED_TARE)


def poured_while_taring(bench, kg=0.044):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(2)
    act(bench, "tare")
    pour(bench, kg)
    bench.run(20)


def test_what_is_poured_while_the_tare_is_proven_is_hidden_by_no_other_tare(bench):
    poured_while_taring(bench)
    assert weighs(bench, Phase.NEED_TARE)
    assert "Tare not proven" in bench.session.message.text
    (doubt,) = told(bench)
    assert (doubt.step_id, doubt.purpose) == ("oil", "pour")
    assert not proofs(bench)
    assert "oil may not be weighed: undo that first" in lines(bench)
    refused(bench)
    form = view(bench).task
    assert [(f.label, f.kind) for f in form.fields] == [(UNDONE[Undone.TAKEN_OUT], FieldKind.CHECK)]
    assert form.instruction.startswith("First take the oil that was not weighed out of the unit;")
    bench.world.model.take_out(0.044)
    bench.run(2)
    act(bench, "tare", emptied1="yes")
    bench.until(lambda: weighs(bench, Phase.POURING))
    (proof,) = proofs(bench)
    assert proof.emptied.confirmed_by == bench.session.person.person_id
    assert proof.emptied.statements == (Undone.TAKEN_OUT,)
    assert not bench.session.rebuild.unweighed
    pour(bench, goal(bench))
    capture(bench)
    assert bench.session.rebuild.current.kind is StepKind.BLEED


@pytest.mark.parametrize("after_s", [0.0, 0.4, 0.8, 1.2, 1.6, 2.0, 2.4])
def test_a_pour_at_any_moment_of_the_tare_is_no_zero(bench, after_s):
    """Before the command goes out the scale would tare the oil away; after it, it shows it."""
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(2)
    act(bench, "tare")
    bench.run(after_s)
    while_taring = weighs(bench, Phase.TARING)
    pour(bench, 0.010)
    bench.run(20)
    assert bool(told(bench)) is while_taring
    assert weighs(bench, Phase.NEED_TARE if while_taring else Phase.POURING)


def test_oil_poured_before_any_tare_is_asked_for(bench):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(2)
    pour(bench, 0.030)
    assert len(told(bench)) == 1
    assert "take it out of the unit" in bench.session.message.text
    refused(bench)


def test_the_jug_that_pours_while_it_is_tared(bench):
    bench.work_to(StepKind.WEIGH)
    act(bench, "by_loss")
    bench.world.model.put_on_pan("jug")
    bench.run(2)
    act(bench, "tare")
    pour(bench, 0.030)
    bench.run(20)
    assert len(told(bench)) == 1
    refused(bench)


def test_things_that_are_put_on_and_lifted_are_no_oil(bench):
    bench.work_to(StepKind.WEIGH)
    for what in ("body", "nothing", "drip tray", "tray", "jug", "body"):
        bench.world.model.put_on_pan(what)
        bench.run(1.5)
    act(bench, "tare")
    bench.until(lambda: weighs(bench, Phase.POURING))
    assert not told(bench)
    assert proofs(bench)[0].emptied is None


def test_by_difference_the_unit_itself_tells(bench):
    bench.work_to(StepKind.WEIGH)
    act(bench, "by_difference")
    tare(bench, "nothing")
    bench.world.model.put_on_pan("body")
    bench.run(2)
    capture(bench)
    bench.world.model.put_on_pan("nothing")
    pour(bench, 0.050)
    tare(bench, "nothing")
    assert not told(bench)


def test_half_a_pour_goes_back_when_its_tare_is_lost(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.080)
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.run(0.2)
    (doubt,) = told(bench)
    assert doubt.about_kg == pytest.approx(0.080, abs=1e-3)
    assert doubt.reason.code is Code.LINE_LOST
    refused(bench)


def test_a_tare_that_is_lost_before_anything_is_poured_asks_nothing(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.run(2)
    tare(bench, "body")
    assert not told(bench)
    assert len(bench.store.entries(kind=TareLost.kind)) == 1


def test_tared_again_over_half_a_pour(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.080)
    act(bench, "tare")
    bench.run(1.2)
    refused(bench)
    act(bench, "leave")
    assert any("about 80 g" in line for line in lines(bench))


def test_a_station_that_is_killed_forgets_no_doubt(bench, tmp_path):
    poured_while_taring(bench)
    again = restart(bench, tmp_path)
    try:
        assert again.session.rebuild.unweighed == tuple(told(again))
        refused(again)
        act(again, "tare", emptied1="yes")
        # Confirmed and killed before the proof: it must be confirmed anew.
        once_more = restart(again, tmp_path)
        try:
            refused(once_more)
        finally:
            once_more.store.close()
    finally:
        again.store.close()


def test_a_station_that_is_killed_amid_a_pour_did_not_see_the_scale(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.080)
    assert not told(bench)
    again = restart(bench, tmp_path)
    try:
        (doubt,) = told(again)
        assert doubt.about_kg is None
        refused(again)
    finally:
        again.store.close()


def test_half_a_bleed_comes_back_into_the_unit(bench):
    bench.work_to(StepKind.BLEED)
    tare(bench, "tray")
    bench.world.model.bleed(0.003)
    bench.run(3)
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.run(1)
    assert not enabled(bench, "nothing_bled")
    with pytest.raises(NotAllowedError, match="are not captured"):
        act(bench, "nothing_bled")
    refused(bench)
    assert [f.label for f in view(bench).task.fields] == [UNDONE[Undone.PUT_BACK]]


def test_a_step_back_forgets_no_oil(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.044)
    act(bench, "back", reason="wrong piston")
    (doubt,) = told(bench)
    assert (doubt.step_id, doubt.reason.code) == ("oil", Code.STEP_LEFT)
    bench.world.model.put_on_pan("nothing")
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(2)
    refused(bench)


def test_poured_on_and_accepted_as_it_was_captured(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, goal(bench) + 0.004)
    capture(bench)
    pour(bench, 0.010)
    bench.sign_in(demo.LEAD)
    act(bench, "deviation", **demo.SIGNED, reason="within what this vehicle tolerates")
    assert bench.session.rebuild.current.kind is StepKind.BLEED
    (doubt,) = told(bench)
    assert doubt.about_kg == pytest.approx(0.010, abs=5e-4)
    assert Statement(Code.UNWEIGHED_OIL) in bench.session.rebuild.hold_reasons
    bench.world.model.put_on_pan("tray")
    bench.run(2)
    refused(bench)


def test_a_capture_that_passes_leaves_no_doubt(bench):
    bench.work_to(StepKind.CHARGE)
    assert not told(bench)


def test_no_tare_is_recorded_over_a_doubt(bench):
    poured_while_taring(bench)
    rebuild = bench.session.rebuild
    proven = TareProven(rebuild.unit_id, "oil", "S", 0.0, 0.0, 9, "")
    with pytest.raises(NotAllowedError, match="the tare does not count"):
        prove_tare(rebuild, proven)


def test_the_technician_undoes_it_and_it_stands_in_the_record(bench):
    poured_while_taring(bench)
    bench.work_to(None)
    (filed,) = bench.store.entries(kind=UnitFiled.kind)
    (word,) = filed.event.record["oil"]["emptied"]
    assert word["statements"] == ["taken_out"]
    ((what, said, source),) = emptied_lines(record_in(filed.event.record), str)
    assert (what, said) == ("Before a tare", UNDONE[Undone.TAKEN_OUT])
    assert word["confirmed_by"] in source
    net = filed.event.record["oil"]["net_shown_kg"]
    assert net == pytest.approx(bench.world.model.oil_kg * 0.99874, abs=5e-4), "nothing is hidden"
    assert not filed.event.qa_hold


def test_a_journal_of_before_is_read_as_it_was(bench):
    bench.work_to(StepKind.BLEED)
    rebuild, entries = bench.session.rebuild, bench.store.entries()
    (proof,) = [e.event for e in entries if isinstance(e.event, TareProven)]
    body = proof.body()
    del body["emptied"], body["purpose"]
    assert event_from(TareProven.kind, body).emptied is None
    own = [e for e in entries if getattr(e.event, "unit_id", "") == rebuild.unit_id]
    assert fold(own, rebuild.specification) == rebuild
    assert any(isinstance(e.event, StepSigned) for e in own)


def against_g(bench):
    told = re.match(r"Not tared: the scale shows (\S+) g more than", bench.session.message.text)
    return float(told.group(1))


def test_a_word_that_the_scale_contradicts_is_refused_and_only_a_deviation_goes_on(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.131)
    bench.unplugged.add("scale")
    bench.run(3)
    bench.unplugged.clear()
    bench.run(3)
    refused(bench)
    act(bench, "tare", emptied1="yes")
    bench.run(8)
    assert against_g(bench) == pytest.approx(131.0, abs=0.5)
    assert weighs(bench, Phase.NEED_TARE)
    assert len(proofs(bench)) == 1
    bench.sign_in(demo.LEAD)
    act(bench, "deviation", **demo.SIGNED, reason="known and left in")
    act(bench, "tare")
    act(bench, "tare", emptied1="yes")
    bench.until(lambda: weighs(bench, Phase.POURING))
    assert proofs(bench)[-1].contradicted_kg == pytest.approx(0.131, abs=5e-4)


def test_a_word_that_the_scale_bears_out_goes_on_also_after_a_restart(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.050)
    again = restart(bench, tmp_path)
    act(again, "tare")
    act(again, "tare", emptied1="yes")
    again.run(8)
    assert against_g(again) == pytest.approx(50.0, abs=0.5)
    again.world.model.take_out(0.050)
    again.run(3)
    act(again, "tare")
    act(again, "tare", emptied1="yes")
    again.until(lambda: weighs(again, Phase.POURING))
    assert proofs(again)[-1].contradicted_kg is None
    again.store.close()


def test_a_tare_in_the_middle_of_a_pour_asks_first(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.060)
    assert "about 60 g are not captured" in act(bench, "tare")
    assert weighs(bench, Phase.POURING)
    assert "are not captured" in act(bench, "tare")
    assert weighs(bench, Phase.POURING)
    bench.run(1.2)
    assert "Not tared" in act(bench, "tare")
    assert weighs(bench, Phase.NEED_TARE)
    assert len(told(bench)) == 1


def test_a_tare_after_a_captured_short_fill_claims_nothing(bench):
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.060)
    capture(bench)
    bench.run(3)
    act(bench, "tare")
    bench.until(lambda: weighs(bench, Phase.POURING))
    assert not told(bench)
    assert not bench.session.rebuild.unweighed


def test_a_spill_at_the_bleed_does_not_say_that_the_unit_was_bled(bench):
    bench.work_to(StepKind.BLEED)
    act(bench, "spill")
    tare(bench, "drip tray")
    bench.world.model.take_out(goal(bench))
    bench.run(3)
    count = len(bench.session.rebuild.captures)
    act(bench, "capture")
    bench.until(lambda: len(bench.session.rebuild.captures) > count)
    assert bench.session.rebuild.current.kind is StepKind.BLEED
    signed = [e.event for e in bench.store.entries(kind=StepSigned.kind)]
    assert signed[-1].step_id != bench.session.rebuild.current.id
