"""Stories of captured oil that counts no more: its mass goes, and the oil must go too.

Found by a walk that holds records against what is really in the unit.
"""

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.commands.capturing import EMPTIED
from benchstation.domain.events import TareProven
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Undone
from benchstation.domain.unit_commands import NotAllowedError
from tests.oil_hands import act, capture, goal, pour, restart, tare


def asked(bench):
    """Press Tare and return what must be confirmed before it."""
    assert "Not tared" in act(bench, "tare")
    assert bench.session.work.open_form == EMPTIED
    return [(d.reason.code, d.about_kg) for d in bench.session.rebuild.unweighed]


def confirmed(bench):
    act(bench, "tare", emptied1="yes", emptied2="yes")
    bench.run(20)
    return bench.session.work.weighing.phase


def filled(bench):
    bench.work_to(StepKind.BLEED)
    return bench.session.rebuild.net_shown_kg


def on_the_scale(bench, oil_kg):
    bench.world.model.put_on_pan("body")
    bench.world.model.oil_kg = oil_kg
    bench.run(3)


def test_going_back_to_the_weigh_in_asks_for_an_empty_body(bench):
    """It was tared away with the whole fill in it, and filled once more."""
    oil_kg = filled(bench)
    act(bench, "back", reason="wrong bleed screw")
    on_the_scale(bench, oil_kg)
    assert asked(bench) == [(Code.GONE_BACK, pytest.approx(oil_kg))]
    assert confirmed(bench) is Phase.NEED_TARE
    assert "224.1 g more than what you confirmed" in bench.session.message.text
    on_the_scale(bench, 0.0)
    assert asked(bench)
    assert confirmed(bench) is Phase.POURING
    (emptied,) = bench.session.rebuild.emptied
    assert emptied.statements == (Undone.TAKEN_OUT,)


def test_going_back_to_the_bleed_asks_for_what_was_bled(bench):
    """What had been bled counted no more and was bled again: the unit was short by it."""
    filled(bench)
    tare(bench, "tray")
    surplus = goal(bench)
    bench.world.model.bleed(surplus)
    bench.run(3)
    capture(bench)
    assert bench.session.rebuild.current.kind is StepKind.TORQUE
    act(bench, "back", reason="looked at again")
    with pytest.raises(NotAllowedError, match="was not weighed"):
        act(bench, "nothing_bled")
    assert asked(bench) == [(Code.GONE_BACK, pytest.approx(surplus, abs=1e-4))]
    assert confirmed(bench) is Phase.NEED_TARE
    assert "more than what you confirmed" in bench.session.message.text
    bench.world.model.bleed(-surplus)
    assert asked(bench)
    assert confirmed(bench) is Phase.POURING
    assert bench.session.rebuild.emptied[-1].statements == (Undone.PUT_BACK,)


def test_back_at_the_release_the_unit_is_taken_apart_and_nothing_is_asked(bench):
    filled(bench)
    act(bench, "back", step="release", reason="a seal was forgotten")
    assert not bench.session.rebuild.unweighed


def test_a_body_that_is_weighed_again_is_empty_first(bench):
    """Its oil stayed in it, was tared away, and the new mass counted in place of the old."""
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.2)
    capture(bench)
    act(bench, "again")
    assert asked(bench) == [(Code.GIVEN_UP, pytest.approx(0.2, abs=2e-3))]
    assert confirmed(bench) is Phase.NEED_TARE
    bench.world.model.take_out(0.2)
    bench.run(3)
    assert asked(bench)
    assert confirmed(bench) is Phase.POURING
    pour(bench, goal(bench))
    capture(bench)
    assert bench.session.rebuild.current.kind is StepKind.BLEED


def test_oil_that_left_the_body_beside_the_scale_is_missed_at_the_next_tare(bench):
    """The plug was out, the body was knocked over, and the rest was poured to the mark."""
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.15)
    capture(bench)
    bench.session.scale.instrument.report_broken("the line was lost")
    bench.world.model.put_on_pan("nothing")
    bench.run(2)
    bench.world.model.take_out(0.02)
    bench.world.model.put_on_pan("body")
    bench.run(3)
    act(bench, "tare")
    bench.run(10)
    assert bench.session.work.weighing.phase is Phase.NEED_TARE
    assert "20.0 g less than what was captured" in bench.session.message.text
    (doubt,) = bench.session.rebuild.unweighed
    assert doubt.about_kg == pytest.approx(-0.02, abs=1e-3)
    bench.world.model.oil_kg += 0.02
    bench.run(3)
    assert asked(bench)
    assert confirmed(bench) is Phase.POURING
    assert Undone.PUT_BACK in bench.session.rebuild.emptied[-1].statements


def test_the_empty_weight_outlives_a_time_aside_and_another_unit_on_the_scale(bench):
    """A false word after the unit lay aside was believed: nothing was left to compare with."""
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    pour(bench, 0.1)
    unit = bench.session.rebuild.unit_id
    act(bench, "set_aside", reason="waits for oil")
    bench.work_to(StepKind.WEIGH, serial="T-2")
    on_the_scale(bench, 0.0)
    tare(bench, "body")
    pour(bench, 0.03)
    act(bench, "abandon", reason="cracked")
    act(bench, "next")
    act(bench, "fetch", unit=unit)
    act(bench, "prove", confirm1="yes", zero1_rod="yes", zero1_screw="yes")
    on_the_scale(bench, 0.1)
    assert asked(bench)
    assert confirmed(bench) is Phase.NEED_TARE
    assert "more than what you confirmed" in bench.session.message.text
    on_the_scale(bench, 0.0)
    assert asked(bench)
    assert confirmed(bench) is Phase.POURING


def test_it_outlives_a_restart(bench, tmp_path):
    oil_kg = filled(bench)
    act(bench, "back", reason="wrong bleed screw")
    again = restart(bench, tmp_path)
    try:
        on_the_scale(again, oil_kg)
        assert asked(again)
        assert confirmed(again) is Phase.NEED_TARE
        on_the_scale(again, 0.0)
        assert asked(again)
        assert confirmed(again) is Phase.POURING
        assert len(again.store.entries(kind=TareProven.kind)) == 2
    finally:
        again.store.close()
