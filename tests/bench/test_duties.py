"""Duties apart: QA judges no own work; one person alone signs twice and it stands as such."""

from datetime import timedelta

import pytest

from benchstation.bench.bench_settings import BenchSettings
from benchstation.config.settings import Settings, SettingsError, parse_settings
from benchstation.demo import shop as demo
from benchstation.domain.disposition import Standing
from benchstation.domain.events import (
    PersonEnrolled,
    PersonLeft,
    QaConfirmed,
    SignedOnce,
    SpecificationApproved,
    UnitDisposed,
    UnitFiled,
)
from benchstation.domain.people import hash_pin
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import METRIC
from benchstation.reports.export import filed_record
from benchstation.reports.label import label_lines
from benchstation.reports.oil_words import _read_on
from benchstation.reports.remarks import approved_words
from benchstation.screens.people.page import open_person
from benchstation.screens.records.page import Records
from benchstation.screens.specifications.page import Specifications
from benchstation.store.engine import open_store
from tests.screens.bench.test_by_hand import by_hand, goal_g, lose_scale, view
from tests.screens.specifications.test_page import FAMILY, text
from tests.stepped_bench import START, make_bench

WORKER = demo.TECHNICIANS[0]
BOTH = ("technician", "lead", "qa")
PAUSE_S = 900.0


def act(bench, action, **fields):
    return bench.session.act(action, {**demo.SIGNED, **fields})


def enrol(bench, person, *roles):
    """Put somebody's roles on record as the shop's past has them."""
    known = bench.session.shop.people[person]
    bench.session.journal([PersonEnrolled(person, known.name, roles, known.pin_hash)])


def leave(bench, *people):
    bench.session.journal([PersonLeft(person, "retired") for person in people])


def others_left(bench, stays):
    leave(bench, *(one for one in bench.session.shop.people if one != stays))


def filed(bench) -> str:
    bench.work_to(None)
    return bench.store.entries(kind=UnitFiled.kind)[-1].event.unit_id


def dispose(bench, unit, word="released"):
    return act(bench, "dispose", unit=unit, disposition=word, reason="record complete")


def words(bench):
    return [entry.event.disposition for entry in bench.store.entries(kind=UnitDisposed.kind)]


# --- QA and the own work -------------------------------------------------------------------------


@pytest.mark.parametrize("word", ["released", "rejected"])
def test_who_worked_on_a_unit_does_not_judge_it(bench, word):
    unit = filed(bench)
    enrol(bench, WORKER, "technician", "qa")
    bench.sign_in(WORKER)
    with pytest.raises(NotAllowedError, match="whoever worked on a unit") as raised:
        dispose(bench, unit, word)
    assert bench.session.shop.people[demo.QA].name in raised.value.advice
    assert words(bench) == []
    bench.sign_in(demo.QA)
    assert dispose(bench, unit, word) == f"This unit is {word}."


def test_whoever_worked_on_it_may_hold_it_and_not_take_the_hold_off(bench):
    unit = filed(bench)
    enrol(bench, WORKER, "technician", "qa")
    bench.sign_in(WORKER)
    assert dispose(bench, unit, "held") == "This unit is on hold."
    with pytest.raises(NotAllowedError, match="whoever worked on a unit"):
        dispose(bench, unit)
    assert words(bench) == ["held"]


def test_a_deviation_makes_its_lead_one_of_those_who_worked_on_it(bench):
    bench.work_to(None, charge_error_pa=2e5)
    unit = bench.store.entries(kind=UnitFiled.kind)[-1].event.unit_id
    enrol(bench, demo.LEAD, "lead", "qa")
    bench.sign_in(demo.LEAD)
    with pytest.raises(NotAllowedError, match="whoever worked on a unit"):
        dispose(bench, unit)


# --- one person alone ----------------------------------------------------------------------------


@pytest.fixture
def alone(bench):
    """A shop of one person, who filed a unit and is QA as well."""
    unit = filed(bench)
    enrol(bench, WORKER, *BOTH)
    others_left(bench, WORKER)
    bench.sign_in(WORKER)
    bench.unit = unit
    return bench


def pass_time(bench, seconds):
    bench.session.signed_in.idle.sign_out_after(0.0)
    bench.run(seconds)


def test_one_person_alone_signs_twice_with_a_pause_and_it_stands_so_everywhere(alone, tmp_path):
    assert "Signed once" in dispose(alone, alone.unit)
    pass_time(alone, 60.0)
    assert "Signed once already: sign again in 14 min" in dispose(alone, alone.unit)
    assert words(alone) == []
    assert len(alone.store.entries(kind=SignedOnce.kind)) == 1
    pass_time(alone, PAUSE_S)
    assert dispose(alone, alone.unit) == "This unit is released, not independent."
    found = filed_record(alone.store, alone.unit)
    assert found.disposition.standing is Standing.RELEASED_ALONE
    assert "RELEASED, NOT INDEPENDENT" in label_lines(found, METRIC)[-1]
    detail = Records(alone.store).open(alone.unit, METRIC)
    assert "released, not independent" in str(detail.row)
    assert detail.row.tone.value != "good"
    assert not next(a for a in detail.actions if a.id == "released").enabled


def test_what_was_signed_once_is_not_signed_for_another_word(alone):
    dispose(alone, alone.unit)
    pass_time(alone, PAUSE_S)
    assert "Signed once" in dispose(alone, alone.unit, "rejected")
    assert dispose(alone, alone.unit, "held") == "This unit is on hold."
    assert "Signed once" in dispose(alone, alone.unit), "what was said since is looked at anew"


def test_as_soon_as_another_could_do_it_that_one_must(alone):
    dispose(alone, alone.unit)
    pass_time(alone, PAUSE_S)
    alone.session.journal([PersonEnrolled("rae", "Rae", ("qa",), hash_pin("975318"))])
    with pytest.raises(NotAllowedError, match="Have Rae sign in"):
        dispose(alone, alone.unit)
    assert words(alone) == []


def test_the_pause_is_of_the_settings_and_bounded(alone):
    alone.session.settings = BenchSettings(Settings(second_signature_after_s=60.0))
    dispose(alone, alone.unit)
    pass_time(alone, 61.0)
    assert dispose(alone, alone.unit).endswith("not independent.")
    for wrong in (59.0, 0.0, 86_401.0):
        with pytest.raises(SettingsError, match="second_signature_after_s"):
            parse_settings({"second_signature_after_s": wrong})


def test_a_first_signature_does_not_count_for_ever_nor_from_the_future(alone):
    utc = alone.session.clock.utc()
    signed = SignedOnce(WORKER, "released", f"{alone.unit}:0")
    for moved in (-timedelta(days=8), timedelta(hours=1)):
        alone.store.append([signed], person=WORKER, utc=utc + moved)
    assert "Signed once." in dispose(alone, alone.unit)


def test_the_own_specification_is_approved_alone_and_units_say_so(bench):
    enrol(bench, WORKER, *BOTH)
    bench.sign_in(WORKER)
    act(bench, "draft", source=text())
    key = f"draft:{FAMILY}/2"
    with pytest.raises(NotAllowedError, match="does not approve it"):
        act(bench, "approve", key=key)
    others_left(bench, WORKER)
    page = Specifications(bench.store)
    assert {row.key: row.author for row in page.rows()}[key] == "", "the button is offered"
    assert "Signed once" in act(bench, "approve", key=key)
    assert len(bench.store.entries(kind=SpecificationApproved.kind)) == len(demo.LOT_OF)
    pass_time(bench, PAUSE_S)
    assert "in force" in act(bench, "approve", key=key)
    row = next(row for row in page.rows() if row.key == f"approved:{FAMILY}/2")
    assert "not independent" in str(row)
    found = filed_record(bench.store, filed(bench))
    assert not found.record.specification.independent
    assert "written and approved by" in approved_words(found.record.specification)
    assert "Specification not independent" in label_lines(found, METRIC)


# --- QA roles ------------------------------------------------------------------------------------

NEW = {"name": "Rae", "qa": "yes", "pin": "975318", "pin_again": "975318"}


@pytest.fixture
def lead(bench):
    bench.sign_in(demo.LEAD)
    return bench


def confirmed(bench):
    return [(e.event.person_id, e.event.by, e.event.first) for e in
            bench.store.entries(kind=QaConfirmed.kind)]  # fmt: skip


@pytest.mark.parametrize(
    ("action", "fields"),
    [
        ("enrol", NEW),
        ("change_roles", {"person": WORKER, "technician": "yes", "qa": "yes"}),
        ("reset_pin", {"person": demo.QA, "pin": "975318", "pin_again": "975318"}),
    ],
)
def test_a_qa_role_or_pin_is_confirmed_by_qa(lead, action, fields):
    wrong = {"confirmed_by": demo.QA, "confirm_pin": "135790"}
    if action == "reset_pin":
        enrol(lead, WORKER, "technician", "qa")
    by = demo.QA if action != "reset_pin" else WORKER
    before = len(lead.store.entries(kind=PersonEnrolled.kind))
    for given, said in (({}, "confirmed by QA"), ({**wrong, "confirmed_by": by}, "not the PIN")):
        with pytest.raises(NotAllowedError, match=said):
            act(lead, action, **fields, **given)
    with pytest.raises(NotAllowedError):
        act(lead, action, **fields, confirmed_by=demo.TECHNICIANS[1], confirm_pin=demo.PIN)
    assert len(lead.store.entries(kind=PersonEnrolled.kind)) == before
    act(lead, action, **fields, confirmed_by=by, confirm_pin=demo.PIN)
    assert [one[1:] for one in confirmed(lead)] == [(by, False)]


def test_what_is_no_qas_is_confirmed_by_nobody(lead):
    act(lead, "reset_pin", person=WORKER, pin="975318", pin_again="975318")
    act(lead, "change_roles", person=WORKER, technician="yes", lead="yes")
    assert confirmed(lead) == []


def test_the_first_qa_of_a_shop_is_on_record_as_such(tmp_path):
    make_bench(tmp_path, name="with-qa.sqlite").store.close()
    with open_store(tmp_path / "with-qa.sqlite", demo.BENCH, read_only=True) as founded:
        said = [e.event for e in founded.entries() if getattr(e.event, "person_id", "") != demo.QA]
    with open_store(tmp_path / "rebuilds.sqlite", demo.BENCH) as store:
        store.append(said, person="set-up", utc=START)
    bench = make_bench(tmp_path)
    try:
        bench.sign_in(demo.LEAD)
        act(bench, "enrol", **NEW)
        assert confirmed(bench) == [("rae", "", True)]
        detail = open_person(bench.store, "rae", bench.session.person)
        assert "first QA of the shop" in str(detail.groups)
        with pytest.raises(NotAllowedError, match="confirmed by QA"):
            act(bench, "change_roles", person=WORKER, qa="yes")
    finally:
        bench.store.close()


def test_whoever_takes_the_last_qa_off_is_not_qa_at_once(lead):
    act(lead, "take_off", person=demo.QA, reason="gone")
    assert "Signed once" in act(lead, "enrol", **NEW)
    assert "rae" not in lead.session.shop.people
    pass_time(lead, PAUSE_S)
    act(lead, "enrol", **NEW)
    assert confirmed(lead) == [("rae", "", False)]


# --- by hand -------------------------------------------------------------------------------------


def test_what_one_person_alone_read_by_hand_is_signed_twice_and_says_so(bench):
    bench.work_to(StepKind.WEIGH)
    others_left(bench, WORKER)
    lose_scale(bench)
    act(bench, "by_hand")
    choices = next(f for f in view(bench).task.fields if f.id == "second").choices
    assert [key for key, _ in choices] == [WORKER]
    assert "not independent" in choices[0][1]
    with pytest.raises(NotAllowedError, match="not your PIN"):
        by_hand(bench, goal_g(bench), second=WORKER, pin="135790")
    assert "Signed once" in by_hand(bench, goal_g(bench), second=WORKER)
    assert not bench.session.rebuild.captures
    pass_time(bench, PAUSE_S)
    assert "Signed once." in by_hand(bench, "201.0 g", second=WORKER), "another value is another"
    assert "pass" in by_hand(bench, goal_g(bench), second=WORKER)
    captured = bench.session.rebuild.captures[0].event
    assert captured.by_hand.confirmed_by == f"{WORKER} alone"
    assert f"signed twice by {WORKER}: not independent" in _read_on(captured.by_hand)
