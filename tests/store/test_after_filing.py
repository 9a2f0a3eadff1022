"""What may be said and done about a filed unit, and what the searched tables say of it then."""

from dataclasses import replace

import pytest

from benchstation.domain.disposition import ALONE, FIRST, Standing
from benchstation.domain.events import (
    CustomerTold,
    RecordShown,
    ReleaseRuleSet,
    ReturnExamined,
    StepSigned,
    UnitAmended,
    UnitDisposed,
    UnitReturned,
    UnitShipped,
)
from benchstation.store.after_filing_rules import signatures_asked
from benchstation.store.errors import NotInOrderError
from benchstation.store.queries import get_unit
from benchstation.store.search import find_units, units_with_lot_named
from tests.filed_records import EVIDENCE, filing_of
from tests.samples import sample_of


def shipped(unit="u1", customer="Kim"):
    return replace(sample_of(UnitShipped), unit_id=unit, customer=customer, address="", package="")


def word(text, unit="u1"):
    return UnitDisposed(unit, text, "seen")


def amended(field="order", old="WO-7", new="WO-8", decision="", approved="lea"):
    return UnitAmended("u1", field, old, new, "typed wrong", approved, decision)


@pytest.fixture
def filed(store, add, opening):
    add(opening(), StepSigned("u1", "close", EVIDENCE), filing_of())
    return store


def standing(store, unit="u1"):
    return Standing(get_unit(store, unit).standing)


def refused(add, match, *events, person="quin"):
    with pytest.raises(NotInOrderError, match=match):
        add(*events, person=person)


# --- shipping ------------------------------------------------------------------------------------


@pytest.mark.parametrize("said", [(), ("held",), ("rejected",), ("released", "held"), ("gone",)])
def test_a_unit_that_is_not_released_is_not_shipped(filed, add, said):
    add(*(word(text) for text in said))
    refused(add, "only a released unit is shipped", shipped())
    assert filed.entries(kind=UnitShipped.kind) == []


def test_nor_is_one_that_is_not_filed(store, add, opening):
    add(opening())
    refused(add, "only of a filed unit", shipped())
    refused(add, "only of a filed unit", shipped("unknown"))


def test_a_released_unit_is_shipped_once_until_it_comes_back_and_is_released_again(filed, add):
    add(word("released"), shipped())
    assert standing(filed) is Standing.SHIPPED
    refused(add, "the unit is shipped:", shipped())
    add(UnitReturned("u1", "knocks"))
    refused(add, "the unit is returned:", shipped())
    refused(add, "back already", UnitReturned("u1", "knocks"))
    add(ReturnExamined("u1", "bush worn"), word("released"), shipped(customer="Lou"))
    row = get_unit(filed, "u1")
    assert (row.standing, row.customer) == (Standing.SHIPPED, "Lou")
    assert row.shipped_utc > row.returned_utc


def test_nothing_is_found_in_a_unit_that_never_came_back(filed, add):
    refused(add, "never came back", ReturnExamined("u1", "bush worn"))


def test_both_customers_lead_to_a_unit_that_was_shipped_twice(filed, add):
    add(word("released"), shipped(customer="Kim Racing"), UnitReturned("u1", "knocks"))
    add(word("released"), shipped(customer="Lou"))
    for text in ("Kim Racing", "kim", "racing", "LOU"):
        assert [row.unit_id for row in find_units(filed, text)] == ["u1"], text
    assert find_units(filed, "Kim Rally") == []


def test_a_notice_stands_until_its_customer_is_told(filed, add):
    add(word("released"), shipped())
    refused(add, "nothing to tell", CustomerTold("u1", "by letter"))
    add(word("rejected"))
    assert get_unit(filed, "u1").notice == "rejected"
    assert standing(filed) is Standing.SHIPPED_REJECTED
    add(CustomerTold("u1", "by letter"))
    assert get_unit(filed, "u1").notice == ""
    assert standing(filed) is Standing.SHIPPED_REJECTED


# --- amending ------------------------------------------------------------------------------------


def test_an_amended_name_is_shown_and_both_lead_to_the_unit(filed, add):
    add(amended("serial", "MR-2231", "MR-3322"), amended())
    row = get_unit(filed, "u1")
    assert (row.serial, row.order, row.amended) == ("MR-3322", "WO-8", 2)
    for text in ("MR-3322", "MR-2231", "3322", "WO-7", "wo-8"):
        assert [found.unit_id for found in find_units(filed, text)] == ["u1"], text


def test_a_journal_with_an_amendment_is_verified_by_its_own_entries(filed, add):
    add(amended("serial", "MR-2231", "MR-3322"), amended("close/lot1", "K-1", "K-77", "pass"))
    assert filed.verify().ok


def test_an_amended_lot_and_the_one_before_both_lead_to_the_unit(filed, add):
    add(amended("close/lot1", "K-1", "K-77", "pass"))
    assert [row.unit_id for row in units_with_lot_named(filed, "k-77")] == ["u1"]
    assert standing(filed) is Standing.ON_HOLD


def test_an_amendment_says_what_stands_there_and_is_approved_by_another(filed, add):
    add(amended())
    refused(add, "something else there by now", amended())
    refused(add, "something else there by now", amended(old="WO-8"))
    refused(add, "cannot be amended", amended("decision", "pass", "fail"))
    refused(add, "cannot be amended", amended("close/confirm1", "yes", "no"))
    refused(add, "another person", amended(old="WO-8", new="WO-9", approved="quin"))
    refused(add, "another person", amended(old="WO-8", new="WO-9", approved=""))
    add(amended(old="WO-8", new="WO-9", approved=f"quin{ALONE}"), person="quin")


def test_a_figure_that_was_judged_holds_the_unit_until_qa_says_another_word(filed, add):
    add(word("released"), amended("close/torque1", 45.0, 54.0, "fail"))
    assert standing(filed) is Standing.ON_HOLD
    refused(add, "the unit is on hold:", shipped())
    add(word("released"), shipped())
    assert standing(filed) is Standing.SHIPPED


# --- two signatures ------------------------------------------------------------------------------


def two(filed, add):
    add(ReleaseRuleSet(2, "as the customer has it"))
    with filed.reading() as connection:
        assert signatures_asked(connection, "bench-1") == 2


def test_where_two_release_one_releases_nothing(filed, add):
    two(filed, add)
    refused(add, "two people", word("released"))
    add(word(FIRST), person="quin")
    assert standing(filed) is Standing.AWAITS_SECOND
    refused(add, "awaiting second signature", shipped())
    refused(add, "two people", word("released"), person="quin")
    refused(add, "two people", word(f"released{ALONE}"), person="rae")
    add(word("released"), person="rae")
    add(shipped())


@pytest.mark.parametrize("between", [word("held"), word("rejected"), amended()])
def test_what_came_after_the_first_signature_voids_it(filed, add, between):
    two(filed, add)
    add(word(FIRST), person="quin")
    add(between, person="lea" if isinstance(between, UnitDisposed) else "quin")
    refused(add, "two people", word("released"), person="rae")


def test_where_one_releases_there_is_no_first_of_two(filed, add):
    refused(add, "one signature", word(FIRST))


def test_the_rule_is_one_or_two_and_a_change(filed, add):
    refused(add, "so already", ReleaseRuleSet(1, "x"))
    refused(add, "one or two", ReleaseRuleSet(3, "x"))
    two(filed, add)
    refused(add, "so already", ReleaseRuleSet(2, "x"))
    add(ReleaseRuleSet(1, "few people"), word("released"))


def test_a_look_at_a_record_changes_nothing(filed, add):
    before = get_unit(filed, "u1")
    add(RecordShown("u1", 0))
    assert get_unit(filed, "u1") == before
    refused(add, "only of a filed unit", RecordShown("u2", 0))
