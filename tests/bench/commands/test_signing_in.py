"""Badges and hand-overs: who signs what when the keyboard goes from one person to the next."""

import json

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.targets import present_oil_target
from benchstation.demo import shop as demo
from benchstation.domain.people import FREE_TRIES, badge_mark
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view
from benchstation.store.journal import Entry

KOFLER, WIELAND, LEAD, QA = (
    demo.BADGES[who] for who in ("kofler", "wieland", "oberhauser", "anders")
)


def scan(bench, text: str) -> str:
    return bench.session.act("badge", {"badge": text})


def view(bench):
    return bench_view(bench.session, QuantityFormatter(UnitSystem.METRIC), hint="hint")


def signatures(bench) -> list[Entry]:
    return bench.store.entries(kind="step.signed")


def test_a_scan_signs_in(bench):
    assert scan(bench, KOFLER) == "Mira Kofler is signed in."
    assert bench.session.person.person_id == "kofler"


def test_a_badge_typed_in_place_of_the_pin_signs_in_its_owner_whatever_name_is_chosen(bench):
    bench.session.act("sign_in", {"person": "kofler", "pin": WIELAND})
    assert bench.session.person.person_id == "wieland"
    bench.session.act("sign_in", {"person": "", "pin": LEAD})
    assert bench.session.person.person_id == "oberhauser"
    assert not any(tries.failures for tries in bench.session.signed_in.tries.values())


def test_the_own_badge_signs_nothing(bench):
    bench.work_to(StepKind.WEIGH)
    before = bench.store.head()
    assert scan(bench, KOFLER) == "Mira Kofler is signed in already."
    assert bench.store.head() == before


def test_unknown_badges_make_wait_and_do_not_lock_the_pins(bench):
    for _ in range(FREE_TRIES):
        with pytest.raises(NotAllowedError, match="not known"):
            scan(bench, "unknown badge")
    with pytest.raises(NotAllowedError, match="too many unknown badges"):
        scan(bench, KOFLER)
    bench.sign_in()
    bench.run(31)
    scan(bench, WIELAND)
    assert bench.session.person.person_id == "wieland"


def test_someone_locked_out_by_pin_can_scan_but_the_tries_are_counted(bench):
    def wrong():
        with pytest.raises(NotAllowedError):
            bench.session.act("sign_in", {"person": "kofler", "pin": "999999"})

    for _ in range(FREE_TRIES):
        wrong()
    bench.session.act("sign_in", {"person": "kofler", "pin": KOFLER})
    assert bench.session.person.person_id == "kofler"
    for _ in range(FREE_TRIES):
        wrong()
    with pytest.raises(NotAllowedError, match="too many wrong PINs"):
        bench.session.act("sign_in", {"person": "kofler", "pin": KOFLER})


def test_no_text_of_a_badge_is_in_the_journal(bench):
    scan(bench, KOFLER)
    stored = json.dumps([entry.event.body() for entry in bench.store.entries()])
    assert not any(text in stored for text in demo.BADGES.values())


def start_pour(bench) -> None:
    """Tare and pour half, signed in as the first technician."""
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(4)
    bench.session.act("tare", {})
    bench.until(lambda: bench.session.work.weighing.tared)
    bench.pour(0.1)


def test_a_pour_goes_on_over_a_hand_over_and_is_signed_by_the_second(bench):
    start_pour(bench)
    weighing, poured = bench.session.work.weighing, bench.session.work.weighing.pour()[1].size
    assert scan(bench, WIELAND) == "Jonas Wieland is signed in. Mira Kofler is signed out."
    assert bench.session.work.weighing is weighing
    bench.pour(present_oil_target(bench.session).pour_shown_kg - 0.1)
    assert weighing.pour()[1].size > poured
    bench.session.act("capture", {})
    bench.until(lambda: bench.session.rebuild.current.kind is StepKind.BLEED)
    assert signatures(bench)[-1].person == "wieland"
    assert [e.person for e in bench.store.entries(kind="weigh.tared")] == ["kofler"]


def test_a_capture_that_was_asked_for_stays_for_who_may_ask_and_goes_with_who_may_not(bench):
    start_pour(bench)
    bench.session.act("capture", {})
    scan(bench, WIELAND)
    assert bench.session.work.weighing.phase is Phase.CAPTURING
    said = scan(bench, QA)
    assert "cancelled" in said
    assert bench.session.work.weighing.phase is Phase.POURING
    scan(bench, KOFLER)
    bench.session.act("capture", {})
    bench.session.act("sign_out", {})
    assert bench.session.work.weighing.phase is Phase.POURING
    bench.run(10)
    assert not bench.store.entries(kind="weigh.captured"), "nobody captures nothing"


def test_the_form_beside_a_pour_stops_nothing_and_is_left_by_going_back(bench):
    start_pour(bench)
    assert view(bench).switch is None
    bench.session.act("switch", {})
    shown = view(bench)
    assert shown.task.step_id == bench.session.rebuild.current.id, "the pour is still the task"
    assert [a.key for a in shown.switch.actions] == ["Return", "Esc"]
    before = bench.session.work.weighing.pour()[1][-1]
    bench.pour(0.05)
    assert bench.session.work.weighing.pour()[1][-1] > before + 0.04
    bench.session.act("stay", {})
    assert view(bench).switch is None
    assert bench.session.person.person_id == "kofler"
    bench.session.act("switch", {})
    bench.sign_in("wieland")
    assert view(bench).switch is None
    assert bench.session.work.weighing.tared


def test_a_serial_that_is_scanned_is_no_wrong_try_of_who_is_signed_in(bench):
    serial = {"badge": "MR-2240", "or": "the page's"}
    bench.sign_in()
    said = bench.session.message.text
    assert bench.session.act("badge", serial) == ""
    assert bench.session.message.text == said
    assert "" not in bench.session.signed_in.tries


def test_nobody_guesses_badges_through_a_text_field(bench):
    (salt,) = bench.session.shop.badge_salts
    marks = {badge_mark(text, salt) for text in demo.BADGES.values()}
    guesses = [f"guess-{n}" for n in range(3000)]
    near = [guess for guess in guesses if badge_mark(guess, salt) in marks]
    far = next(guess for guess in guesses if badge_mark(guess, salt) not in marks)
    assert bench.session.act("badge", {"badge": far, "or": "the text's"}) == ""
    assert "" not in bench.session.signed_in.tries, "a lot that is searched for is no wrong try"
    for guess in near[:5]:
        assert bench.session.act("badge", {"badge": guess, "or": "the text's"}) == ""
    with pytest.raises(NotAllowedError, match="too many unknown badges"):
        bench.session.act("badge", {"badge": demo.BADGES["kofler"], "or": "the text's"})
    assert bench.session.person is None
