"""A lot that is withdrawn between the pour and its capture goes into no record unseen."""

import pytest

from benchstation.bench.locks import capture_locked
from benchstation.demo import shop as demo
from benchstation.domain.events import LotChosen
from benchstation.domain.specification import StepKind
from benchstation.domain.statement_words import worded
from benchstation.domain.unit_commands import NotAllowedError
from tests.oil_hands import act, enabled, goal, pour, tare, view

SECOND = "L-0421"


@pytest.fixture
def pouring(bench):
    """Half a pour from the first lot, with a lead at the bench."""
    bench.work_to(StepKind.WEIGH)
    bench.sign_in(demo.LEAD)
    tare(bench, "body")
    pour(bench, 0.100)
    return bench


def withdraw(bench, lot):
    act(bench, "withdraw_lot", **demo.SIGNED, lot_open=lot, reason="water in it")


def test_the_rest_does_not_come_from_a_lot_withdrawn_meanwhile(pouring):
    act(pouring, "pour_rest", lot=SECOND)
    withdraw(pouring, SECOND)
    pouring.run(10)
    assert f"Not captured: lot {SECOND} is withdrawn" in pouring.session.message.text
    assert pouring.session.unit().captures == ()
    assert pouring.session.unit().oil_lot != SECOND
    with pytest.raises(NotAllowedError, match="no other lot"):
        act(pouring, "pour_rest", lot=SECOND)


def test_nor_from_one_that_was_used_up_meanwhile(pouring):
    act(pouring, "pour_rest", lot=SECOND)
    act(pouring, "use_up", lot_open=SECOND)
    pouring.run(10)
    assert f"lot {SECOND} is used up. Choose another" in pouring.session.message.text
    events = [e.event for e in pouring.store.entries(unit_id=pouring.session.unit().unit_id)]
    assert not [e for e in events if isinstance(e, LotChosen)]


def test_oil_of_a_withdrawn_lot_is_captured_with_a_deviation_only(pouring):
    pour(pouring, goal(pouring) - 0.100 - 0.0003)
    lot = pouring.session.unit().oil_lot
    act(pouring, "capture")
    withdraw(pouring, lot)
    pouring.run(10)
    assert pouring.session.unit().captures == (), "asked for before, and refused all the same"
    assert "water in it. Put that right, or have a lead accept" in pouring.session.message.text
    assert not enabled(pouring, "capture")
    with pytest.raises(NotAllowedError, match=f"lot {lot} is withdrawn: water in it"):
        act(pouring, "capture")
    assert any(a.id == "deviation" and a.enabled for a in view(pouring).task.actions)
    act(pouring, "deviation", **demo.SIGNED, reason="the finding was of another drum")
    act(pouring, "capture")
    pouring.until(lambda: pouring.session.unit().captures)
    (reason,) = pouring.session.unit().hold_reasons
    assert worded(reason) == f"deviation: oil weigh-in, lot {lot} is withdrawn: water in it"


def test_a_mass_of_it_is_not_typed_either(pouring):
    pouring.unplugged.add("scale")
    pouring.run(3)
    act(pouring, "by_hand")
    withdraw(pouring, pouring.session.unit().oil_lot)
    with pytest.raises(NotAllowedError, match="is withdrawn"):
        act(pouring, "take_by_hand", value="200 g")


def test_a_lot_that_this_unit_used_up_is_captured(pouring):
    act(pouring, "use_up", lot_open=pouring.session.unit().oil_lot)
    act(pouring, "capture")
    pouring.until(lambda: pouring.session.unit().captures)


def test_what_is_bled_is_weighed_whatever_became_of_its_lot(bench):
    bench.work_to(StepKind.BLEED)
    bench.sign_in(demo.LEAD)
    withdraw(bench, bench.session.unit().oil_lot)
    tare(bench, "tray")
    assert capture_locked(bench.session) == ""
