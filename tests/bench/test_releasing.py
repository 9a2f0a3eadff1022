"""Two signatures, several units at once, amendments, shipments: as people do it at a bench."""

import itertools
from dataclasses import replace

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.amending import fields_of
from benchstation.domain.disposition import FIRST, Standing
from benchstation.domain.events import (
    OrderedUnit,
    OrderPlaced,
    PersonEnrolled,
    PinRefused,
    RebuildOpened,
    RecordShown,
    ReleaseRuleSet,
    UnitAmended,
    UnitDisposed,
    UnitFiled,
    UnitReturned,
    UnitShipped,
)
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.screens.records.after_filing import dispositions
from benchstation.store.queries import get_unit, record_of
from benchstation.store.words_on_units import disposition_of, signatures_for_release
from tests.stepped_bench import make_bench

SECOND, WORKER = demo.LEAD, demo.TECHNICIANS[0]
NUMBERS = itertools.count(2)


@pytest.fixture(scope="module")
def worked(tmp_path_factory):
    """A bench with one unit filed, and a lead who is QA as well."""
    bench = make_bench(tmp_path_factory.mktemp("releasing"))
    bench.work_to(None, serial="R-1")
    known = bench.session.shop.people[SECOND]
    roles = ("lead", "qa")
    bench.session.journal([PersonEnrolled(SECOND, known.name, roles, known.pin_hash)])
    yield bench
    bench.store.close()


@pytest.fixture
def bench(worked):
    """The bench with one signature for a release, and QA there."""
    worked.sign_in(demo.QA)
    if signatures_for_release(worked.store) != 1:
        act(worked, "set_release_rule", signatures="1", reason="as before")
    return worked


def act(bench, action, **fields):
    return bench.session.act(action, {**demo.SIGNED, **fields})


def another(bench, order="", *, qa_hold=False, line=""):
    """File the worked unit once more under other names; return its id."""
    unit = f"unit-{next(NUMBERS)}"
    opened = bench.store.entries(kind=RebuildOpened.kind)[0].event
    filed = bench.store.entries(kind=UnitFiled.kind)[0].event
    named = {"unit_id": unit, "serial": f"R-{unit}", "order": order}
    record = {**filed.record, **named}
    bench.sign_in(WORKER)
    bench.session.journal(
        [
            replace(opened, **named, line=line),
            replace(filed, unit_id=unit, serial=named["serial"], record=record, qa_hold=qa_hold),
        ]
    )
    bench.sign_in(demo.QA)
    return unit


def release(bench, unit, word="released"):
    return act(bench, "dispose", unit=unit, disposition=word, reason="record complete")


def standing(bench, unit):
    return Standing(get_unit(bench.store, unit).standing)


def said(bench, kind, unit):
    return [entry.event for entry in bench.store.entries(unit_id=unit, kind=kind.kind)]


# --- two signatures ------------------------------------------------------------------------------


def test_where_two_release_each_signs_and_each_signature_has_its_meaning(bench):
    unit = another(bench)
    act(bench, "set_release_rule", signatures="2", reason="as the customer has it")
    assert "second signature: have" in release(bench, unit)
    assert standing(bench, unit) is Standing.AWAITS_SECOND
    with pytest.raises(NotAllowedError, match="you signed this release already"):
        release(bench, unit)
    bench.sign_in(SECOND)
    assert release(bench, unit) == "This unit is released."
    told = disposition_of(bench.store, unit, qa_hold=False)
    names = [bench.session.shop.people[p].name for p in (demo.QA, SECOND)]
    assert [ruling.person for ruling in told.rulings] == names
    first, second = (ruling.meaning for ruling in told.rulings)
    assert "first of two" in first
    assert second == "I have examined the whole record and release this unit"
    assert all(ruling.utc.tzinfo for ruling in told.rulings)


def test_who_worked_on_it_is_none_of_the_two(bench):
    unit = another(bench)
    known = bench.session.shop.people[WORKER]
    both = ("technician", "qa")
    bench.session.journal([PersonEnrolled(WORKER, known.name, both, known.pin_hash)])
    act(bench, "set_release_rule", signatures="2", reason="as the customer has it")
    bench.sign_in(WORKER)
    with pytest.raises(NotAllowedError, match="neither of the two"):
        release(bench, unit)
    assert said(bench, UnitDisposed, unit) == []
    bench.session.journal([PersonEnrolled(WORKER, known.name, ("technician",), known.pin_hash)])


def test_the_rule_is_signed_by_qa_with_a_reason(bench):
    with pytest.raises(NotAllowedError, match="reason"):
        act(bench, "set_release_rule", signatures="2", reason="")
    with pytest.raises(NotAllowedError, match="one or two"):
        act(bench, "set_release_rule", signatures="7", reason="x")
    with pytest.raises(NotAllowedError, match="not your PIN"):
        bench.session.act(
            "set_release_rule", {"signatures": "2", "reason": "x", "signature": "0000"}
        )
    bench.sign_in(WORKER)
    with pytest.raises(NotAllowedError):
        act(bench, "set_release_rule", signatures="2", reason="x")
    rules = bench.store.entries(kind=ReleaseRuleSet.kind)
    assert all(entry.event.reason != "x" for entry in rules)


# --- several at once -----------------------------------------------------------------------------


def look(bench, *units):
    for unit in units:
        act(bench, "note_shown", unit=unit)


def together(bench, order):
    return act(bench, "release_together", order=order, reason="all complete")


def test_an_order_is_released_by_one_signature_and_each_unit_has_its_entry(bench):
    units = [another(bench, "WO-A") for _ in range(3)]
    look(bench, *units)
    assert together(bench, "wo-a") == "Signed once for all: 3 released."
    words = [said(bench, UnitDisposed, unit) for unit in units]
    assert [len(one) for one in words] == [1, 1, 1]
    assert len({one[0].batch for one in words}) == 1
    assert words[0][0].batch
    assert all(standing(bench, unit) is Standing.RELEASED for unit in units)


def test_all_or_none_and_each_that_cannot_be_is_named(bench):
    seen, unseen, held, changed = (another(bench, "WO-B") for _ in range(4))
    look(bench, seen, held, changed)
    release(bench, held, "held")
    bench.session.journal([UnitAmended(changed, "position", "", "left", "x", SECOND)])
    with pytest.raises(NotAllowedError) as refused:
        together(bench, "WO-B")
    for unit, why in ((unseen, "not opened"), (held, "it is on hold"), (changed, "not opened")):
        assert f"R-{unit}: " in refused.value.what
        assert why in refused.value.what.split(f"R-{unit}: ")[1].split(";")[0]
    assert f"R-{seen}: " not in refused.value.what
    assert said(bench, UnitDisposed, seen) == []


def test_a_look_is_that_of_the_person_who_signs_and_is_noted_once(bench):
    unit = another(bench, "WO-C")
    look(bench, unit, unit)
    assert len(said(bench, RecordShown, unit)) == 1
    bench.sign_in(SECOND)
    with pytest.raises(NotAllowedError, match="not opened"):
        together(bench, "WO-C")
    look(bench, unit)
    together(bench, "WO-C")


def test_where_two_release_an_order_is_signed_twice(bench):
    units = [another(bench, "WO-D") for _ in range(2)]
    act(bench, "set_release_rule", signatures="2", reason="as the customer has it")
    look(bench, *units)
    assert "2 await a second signature" in together(bench, "WO-D")
    assert [said(bench, UnitDisposed, unit)[-1].disposition for unit in units] == [FIRST] * 2
    bench.sign_in(SECOND)
    look(bench, *units)
    assert "2 released" in together(bench, "WO-D")


def test_an_order_without_filed_units_is_released_by_nobody(bench):
    with pytest.raises(NotAllowedError, match="1 to 200"):
        together(bench, "WO-NONE")


def a_set(bench, order, filed):
    """Place a matched order of two; start and file as many of it. Return the ids, filed first."""
    opened = bench.store.entries(kind=RebuildOpened.kind)[0].event
    family = opened.specification_id
    lines = tuple(OrderedUnit(f"{order}-{n}", "", family, f"rear {n}") for n in (1, 2))
    bench.session.journal([OrderPlaced(order, "", "", True, lines)])
    return [another(bench, order, line=line.line) for line in lines[:filed]]


def release_set(bench, unit):
    return act(bench, "release_set", unit=unit, reason="they match")


def shown_acts(bench, unit):
    return {one.id: one for one in dispositions(bench.store, get_unit(bench.store, unit))}


def test_a_set_is_released_by_one_signature_after_a_look_at_each(bench):
    left, right = a_set(bench, "WO-S", 2)
    other = another(bench, "WO-S")
    assert shown_acts(bench, left)["release_set"].enabled
    look(bench, left)
    with pytest.raises(NotAllowedError, match=f"R-{right}: you have not opened"):
        release_set(bench, left)
    look(bench, right)
    assert release_set(bench, right) == "Signed once for all: 2 released."
    assert [standing(bench, unit) for unit in (left, right)] == [Standing.RELEASED] * 2
    assert standing(bench, other) is Standing.NOT_RELEASED
    assert said(bench, UnitDisposed, left)[0].batch == said(bench, UnitDisposed, right)[0].batch
    assert "release_set" not in shown_acts(bench, other)
    with pytest.raises(NotAllowedError, match="belongs to no set"):
        release_set(bench, other)


def test_a_set_is_released_whole_or_not_at_all(bench):
    (only,) = a_set(bench, "WO-T", 1)
    look(bench, only)
    said_why = "rear 2: waiting"
    act_shown = shown_acts(bench, only)["release_set"]
    assert (act_shown.enabled, said_why in act_shown.why_not) == (False, True)
    with pytest.raises(NotAllowedError, match=said_why):
        release_set(bench, only)
    assert standing(bench, only) is Standing.NOT_RELEASED


def test_one_of_a_set_that_was_released_alone_is_not_signed_again(bench):
    alone, rest = a_set(bench, "WO-U", 2)
    release(bench, alone)
    look(bench, rest)
    assert release_set(bench, rest) == "Signed once for all: 1 released."
    assert len(said(bench, UnitDisposed, alone)) == 1


# --- amending ------------------------------------------------------------------------------------


def amend(bench, unit, field, new, **given):
    approved = {"approver": SECOND, "pin": demo.PIN}
    return act(
        bench, "amend", unit=unit, field=field, new=new, reason="typed wrong", **approved | given
    )


def test_a_name_is_amended_by_two_people_and_the_unit_stays_released(bench):
    unit = another(bench)
    release(bench, unit)
    assert amend(bench, unit, "serial", "R-77") == "Amended: Serial. This unit is released."
    (event,) = said(bench, UnitAmended, unit)
    assert (event.old, event.new, event.approved_by) == (f"R-{unit}", "R-77", SECOND)
    assert get_unit(bench.store, unit).serial == "R-77"


def test_the_second_person_signs_with_an_own_pin(bench):
    unit = another(bench)
    for given, why in (
        ({"approver": ""}, "approved by a second person"),
        ({"approver": demo.QA}, "a second person confirms"),
        ({"pin": "0000"}, "PIN"),
        ({"approver": WORKER, "pin": demo.PIN}, "lead or QA"),
    ):
        with pytest.raises(StationError, match=why):
            amend(bench, unit, "serial", "R-78", **given)
    assert said(bench, UnitAmended, unit) == []
    refusals = bench.store.entries(kind=PinRefused.kind)
    assert any(entry.event.person_id == SECOND for entry in refusals)


def test_what_was_measured_is_not_amended(bench):
    with pytest.raises(NotAllowedError, match="cannot be amended"):
        amend(bench, another(bench), "oil", "0.2 kg")


def test_whoever_amended_a_judged_figure_does_not_judge_by_it(bench):
    unit = another(bench)
    field = next(name for name, one in fields(bench, unit).items() if one.limits is not None)
    told = amend(bench, unit, field, "1")
    assert "on hold" in told
    assert said(bench, UnitAmended, unit)[0].decision == "fail"
    for person in (demo.QA, SECOND):
        bench.sign_in(person)
        assert "Signed once" in release(bench, unit), "nobody else could"
    assert standing(bench, unit) is Standing.ON_HOLD


def fields(bench, unit):
    return fields_of(record_of(bench.store, unit))


def test_an_amendment_of_a_unit_that_was_shipped_says_so_and_waits_for_a_notice(bench):
    unit = another(bench)
    release(bench, unit)
    ship(bench, unit)
    assert "its customer has it" in amend(bench, unit, "customer", "Lou").casefold()
    row = get_unit(bench.store, unit)
    assert (row.customer, row.notice) == ("Lou", "amended")
    act(bench, "tell_customer", unit=unit, how="by letter")
    assert get_unit(bench.store, unit).notice == ""


# --- shipping ------------------------------------------------------------------------------------


def ship(bench, unit, **given):
    to = {"customer": "Kim Racing", "address": "Kiln Lane 4", "order": "K-9", "package": "box 1"}
    return act(bench, "ship", unit=unit, **{**to, "clause": "un_3164", **given})


def test_only_what_is_released_is_shipped_and_its_figures_are_those_of_its_record(bench):
    unit = another(bench)
    with pytest.raises(StationError, match="not released yet"):
        ship(bench, unit)
    release(bench, unit)
    assert "shipped to Kim Racing" in ship(bench, unit)
    (event,) = said(bench, UnitShipped, unit)
    assert event.un.startswith("UN 3164")
    record = bench.store.entries(unit_id=unit, kind=UnitFiled.kind)[0].event.record
    assert event.amount_kg == record["charge"]["amount_kg"]
    assert event.charge_20c_gauge_pa == pytest.approx(
        record["charge"]["terms"]["charge_gauge_pa"], rel=0.05
    )
    with pytest.raises(StationError, match="the unit is shipped"):
        ship(bench, unit)


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"customer": ""}, "customer is missing"),
        ({"clause": ""}, "clause is missing"),
        ({"clause": "low_pressure"}, "ruled out"),
        ({"clause": "cfr_f4"}, "needs the burst pressure"),
        ({"clause": "cfr_f4", "burst_pressure": "400 bar"}, "no figure shows"),
        ({"package": "x" * 201}, "longer"),
    ],
)
def test_a_shipment_that_says_too_little_is_refused(bench, given, why):
    unit = another(bench)
    release(bench, unit)
    with pytest.raises(StationError, match=why):
        ship(bench, unit, **given)
    assert said(bench, UnitShipped, unit) == []


def test_a_clause_is_claimed_on_the_shippers_word(bench):
    unit = another(bench)
    release(bench, unit)
    ship(bench, unit, clause="cfr_f4", burst_pressure="400 bar", declared="yes")
    (event,) = said(bench, UnitShipped, unit)
    assert (event.clause, event.un, event.declared) == ("cfr_f4", "", True)
    assert event.burst_gauge_pa == pytest.approx(400e5)


def test_what_comes_back_has_a_complaint_and_what_was_found(bench):
    unit = another(bench)
    release(bench, unit)
    ship(bench, unit)
    with pytest.raises(NotAllowedError, match="complaint is missing"):
        act(bench, "take_returned", unit=unit, complaint=" ")
    act(bench, "take_returned", unit=unit, complaint="knocks when cold")
    act(bench, "examine", unit=unit, found="bush worn")
    (event,) = said(bench, UnitReturned, unit)
    assert event.complaint == "knocks when cold"
    told = disposition_of(bench.store, unit, qa_hold=False)
    assert [back.found for back in told.returns] == ["bush worn"]
    assert told.standing is Standing.RETURNED
