"""What is weighty asks for the PIN where it is done; wrong ones count, also over a restart."""

from datetime import timedelta

import pytest

from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.session import SignedCommand
from benchstation.demo import shop as demo
from benchstation.domain.events import (
    DeviationSigned,
    PersonSignedIn,
    PersonSignedOut,
    PinRefused,
    stored_body,
)
from benchstation.domain.people import FIRST_PAUSE_S, LONGEST_PAUSE_S
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.screens.bench.page import bench_view
from benchstation.store.canonical import canonical
from tests.stepped_bench import START, make_bench

WRONG = "135790"
SIGNED = {
    "deviation", "dispose", "approve", "enrol", "take_back", "change_roles", "reset_pin",
    "take_off", "register_badge", "calibrate", "withdraw_lot", "withdraw_material",
    "withdraw_check", "settle_shop", "settle_bench", "settle_both", "set_release_rule",
    "release_together", "release_set", "amend", "ship", "take_returned", "tell_customer",
}  # fmt: skip
AT_THE_POUR = {"sign", "tare", "capture", "hold", "confirm_lot", "file", "next", "open"}


@pytest.fixture
def outside(bench):
    """A bench at a step whose value is outside, with the lead before it."""
    bench.work_to(StepKind.MEASURE)
    bench.sign_in(demo.LEAD)
    return bench


def facts(bench, kind):
    return [entry.event for entry in bench.store.entries(kind=kind.kind)]


def accept(bench, **signed):
    bench.session.act("deviation", {"reason": "an older make", **signed})


def test_what_is_signed_is_one_list_and_the_path_of_oil_and_gas_is_not_on_it():
    signed = {name for name, kind in COMMANDS.items() if issubclass(kind, SignedCommand)}
    assert signed == SIGNED
    assert not signed & AT_THE_POUR


@pytest.mark.parametrize(
    ("signed", "said"),
    [({}, "signed with your PIN"), ({"signature": WRONG}, "not your PIN")],
)
def test_a_deviation_wants_the_pin_and_nothing_is_on_record_without(outside, signed, said):
    with pytest.raises(NotAllowedError, match=said) as raised:
        accept(outside, **signed)
    assert raised.value.field == "signature"
    assert not facts(outside, DeviationSigned)


def test_whoever_came_by_badge_signs_with_the_pin_too(outside):
    outside.session.act("badge", {"badge": demo.BADGES["oberhauser"]})
    with pytest.raises(NotAllowedError, match="not your PIN"):
        accept(outside, signature=demo.BADGES["oberhauser"])
    accept(outside, **demo.SIGNED)
    assert len(facts(outside, DeviationSigned)) == 1


def test_the_pin_of_another_signs_nothing(outside):
    outside.session.act(
        "reset_pin", {"person": "kofler", "pin": "271828", "pin_again": "271828", **demo.SIGNED}
    )
    with pytest.raises(NotAllowedError, match="not your PIN"):
        accept(outside, signature="271828")


def test_the_button_says_that_it_asks(outside):
    view = bench_view(outside.session, outside.session.words)
    asked = {a.id: a.needs_pin for a in (*view.task.actions, *view.side_actions)}
    assert asked["deviation"]
    assert not asked["back"]


def test_wrong_signatures_count_with_wrong_sign_ins_and_a_right_one_ends_the_count(outside):
    for _ in range(4):
        with pytest.raises(NotAllowedError):
            accept(outside, signature=WRONG)
    accept(outside, **demo.SIGNED)
    for _ in range(5):
        with pytest.raises(NotAllowedError, match="not your PIN"):
            accept(outside, signature=WRONG)
    with pytest.raises(NotAllowedError, match="too many wrong PINs"):
        accept(outside, **demo.SIGNED)
    refused = [(f.person_id, f.where, f.tries) for f in facts(outside, PinRefused)]
    assert refused == [(demo.LEAD, "signature", n) for n in (1, 2, 3, 4, 1, 2, 3, 4, 5)]


# --- on record -----------------------------------------------------------------------------------


def test_who_came_and_went_is_on_record_with_how(bench):
    bench.sign_in("kofler")
    bench.session.act("badge", {"badge": demo.BADGES["oberhauser"]})
    bench.session.act("badge", {"badge": demo.BADGES["oberhauser"]})
    bench.session.act("sign_out", {})
    told = [
        (e.person, e.event.person_id, e.event.how)
        for e in bench.store.entries()
        if isinstance(e.event, PersonSignedIn | PersonSignedOut)
    ]
    assert told == [
        ("kofler", "kofler", "PIN"),
        ("kofler", "kofler", "another came"),
        ("oberhauser", "oberhauser", "badge"),
        ("oberhauser", "oberhauser", "by hand"),
    ]


def test_signed_out_by_time_is_told_apart(bench):
    bench.session.signed_in.idle.sign_out_after(60.0)
    bench.sign_in()
    bench.run(70.0)
    assert facts(bench, PersonSignedOut)[-1].how == "timed"


def test_no_fact_holds_what_was_typed(bench):
    for person, pin in (("kofler", WRONG), ("kofler", "hunter-135790")):
        with pytest.raises(NotAllowedError):
            bench.session.act("sign_in", {"person": person, "pin": pin})
    with pytest.raises(NotAllowedError):
        bench.session.act("badge", {"badge": "locker-4711"})
    told = facts(bench, PinRefused)
    assert [(f.person_id, f.tries) for f in told] == [("kofler", 1), ("kofler", 2), ("", 1)]
    written = b"".join(
        canonical(stored_body(e.event)) for e in bench.store.entries(kind=PinRefused.kind)
    )
    assert not any(text in written for text in (WRONG.encode(), b"hunter", b"locker"))


def test_guessing_floods_no_record(bench):
    """While nothing is taken, nothing is written: some sixty facts a day are the most there are."""
    for _ in range(200):
        with pytest.raises(NotAllowedError):
            bench.session.act("sign_in", {"person": "kofler", "pin": WRONG})
    assert len(facts(bench, PinRefused)) <= 2 * 5


def test_a_full_disk_keeps_nobody_out_and_is_made_good_for(bench):
    bench.disk.full = True
    bench.sign_in()
    assert bench.session.person.person_id == demo.TECHNICIANS[0]
    bench.session.act("sign_out", {})
    assert not facts(bench, PersonSignedIn)
    bench.disk.full = False
    bench.run(2.0)
    assert [f.how for f in facts(bench, PersonSignedIn)] == ["PIN"]
    assert [f.how for f in facts(bench, PersonSignedOut)] == ["by hand"]


# --- over a restart ------------------------------------------------------------------------------


def locked_out(folder, tries: int = 5):
    bench = make_bench(folder)
    for _ in range(tries):
        with pytest.raises(NotAllowedError):
            bench.session.act("sign_in", {"person": "kofler", "pin": WRONG})
    bench.store.close()
    return bench


def waits(bench) -> float:
    return bench.session.signed_in.wait_s("kofler", bench.clock.seconds())


def test_a_restart_shortens_no_pause(tmp_path):
    first = locked_out(tmp_path)
    first.clock.advance(10.0)
    again = make_bench(tmp_path, goes_on=first)
    try:
        assert 15.0 < waits(again) <= 20.0
        with pytest.raises(NotAllowedError, match="too many wrong PINs"):
            again.sign_in("kofler")
        again.run(20.0)
        again.sign_in("kofler")
    finally:
        again.store.close()


def test_the_count_goes_on_and_a_sign_in_ends_it(tmp_path):
    first = locked_out(tmp_path)
    first.clock.advance(FIRST_PAUSE_S + 1.0)
    again = make_bench(tmp_path, goes_on=first)
    with pytest.raises(NotAllowedError, match="not the PIN"):
        again.session.act("sign_in", {"person": "kofler", "pin": WRONG})
    assert waits(again) == pytest.approx(2 * FIRST_PAUSE_S, abs=1.0)
    again.run(2 * FIRST_PAUSE_S + 1.0)
    again.sign_in("kofler")
    again.store.close()
    third = make_bench(tmp_path, goes_on=again)
    try:
        assert waits(third) == 0.0
        assert "kofler" not in third.session.signed_in.tries
    finally:
        third.store.close()


@pytest.mark.parametrize(
    ("moved", "wait_s"), [(-timedelta(days=400), FIRST_PAUSE_S), (timedelta(days=2), 0.0)]
)
def test_a_clock_that_was_moved_locks_nobody_out_for_long(tmp_path, moved, wait_s):
    locked_out(tmp_path)
    again = make_bench(tmp_path, start=START + moved, seconds=0.0)
    try:
        assert waits(again) == pytest.approx(wait_s, abs=1.0)
        assert waits(again) <= LONGEST_PAUSE_S
    finally:
        again.store.close()
