"""What of a filed record may be amended, how it is judged anew, and who may do it."""

import pytest

from benchstation.domain.amending import (
    CUSTOMER,
    Field,
    amend,
    current_value,
    fields_of,
    title_of,
    value_in,
)
from benchstation.domain.events import UnitAmended, UnitShipped
from benchstation.domain.inputs.choice import Chosen
from benchstation.domain.inputs.confirmation import Confirmed
from benchstation.domain.people import Person, Role
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import UnitSystem
from tests.filed_records import filed_record
from tests.samples import sample_of

RECORD = filed_record()
TORQUE, TRAVEL, NOTE = "close/torque1", "close/value2", "close/note1"


def person(name, *roles):
    return Person(name, name.title(), frozenset(roles))


QUIN, LEA, TOM = person("quin", Role.QA), person("lea", Role.LEAD), person("tom", Role.TECHNICIAN)


def amendment(key, new, by=QUIN, approved=LEA, **given):
    return amend("u1", fields_of(RECORD)[key], new, "typed wrong", by, approved, **given)


def test_what_somebody_typed_may_be_amended_and_nothing_else():
    fields = fields_of(RECORD)
    assert set(fields) == {
        *("serial", "order", "position", NOTE, "close/text1", "close/value1", TRAVEL),
        *(TORQUE, "close/torque1/tool", "close/lot1", "close/material1"),
    }
    judged = {key for key, field in fields.items() if field.judged}
    assert judged == {
        *(TRAVEL, TORQUE, "close/torque1/tool", "close/lot1", "close/material1"),
    }
    assert fields[TORQUE].title == "Close: gland nut"


@pytest.mark.parametrize("stands_for_an_act", [Confirmed, Chosen])
def test_a_tick_and_a_choice_are_no_fields(stands_for_an_act):
    (result,) = (r for s in RECORD.steps for r in s.evidence if isinstance(r, stands_for_an_act))
    assert current_value(RECORD, [], f"close/{result.input}") is None


def test_the_customer_is_the_last_shipments():
    shipped = sample_of(UnitShipped)
    assert current_value(RECORD, [], CUSTOMER) is None
    assert current_value(RECORD, [shipped], CUSTOMER) == shipped.customer
    amended = UnitAmended("u1", CUSTOMER, shipped.customer, "Kim", "typed wrong", "lea")
    assert current_value(RECORD, [shipped, amended], CUSTOMER) == "Kim"
    assert title_of(RECORD, CUSTOMER) == "Customer"


def test_both_values_stand_in_an_amendment():
    said = amendment("serial", "MR-2232")
    assert (said.old, said.new, said.approved_by) == ("MR-2231", "MR-2232", "lea")
    assert (said.reason, said.decision) == ("typed wrong", "")
    assert current_value(RECORD, [said], "serial") == "MR-2232"
    assert RECORD.serial == "MR-2231"


@pytest.mark.parametrize(
    ("key", "new", "in_order", "decision"),
    [
        (TORQUE, 50.0, True, "pass"),
        (TORQUE, 50.1, True, "fail"),
        (TRAVEL, 0.099, True, "pass"),
        (TRAVEL, 0.2, True, "fail"),
        ("close/lot1", "K-2", True, "pass"),
        ("close/lot1", "K-2", False, "fail"),
        ("close/material1", "", True, "fail"),
        ("close/value1", 0.3, True, ""),
        (NOTE, "B-18", False, ""),
    ],
)
def test_a_judged_field_is_judged_anew_with_its_new_value(key, new, in_order, decision):
    assert amendment(key, new, lot_in_order=in_order).decision == decision


@pytest.mark.parametrize(
    ("by", "approved", "why"),
    [
        (TOM, QUIN, "lead or QA"),
        (QUIN, TOM, "lead or QA"),
        (LEA, person("lou", Role.LEAD), "one of the two must be QA"),
    ],
)
def test_a_lead_or_qa_amends_with_another_one_and_one_of_them_is_qa(by, approved, why):
    with pytest.raises(NotAllowedError, match=why):
        amendment("serial", "MR-2232", by, approved)


def test_whoever_approves_alone_is_named_so():
    assert amendment("serial", "MR-2232", QUIN, QUIN).approved_by == "quin alone"


def test_a_reason_and_another_value_are_wanted():
    with pytest.raises(NotAllowedError, match="already"):
        amendment("serial", "MR-2231")
    with pytest.raises(NotAllowedError, match="reason"):
        amend("u1", fields_of(RECORD)["serial"], "X-1", " ", QUIN, LEA)


@pytest.mark.parametrize(
    ("key", "typed", "value"),
    [
        (TORQUE, "48", 48.0),
        (TORQUE, "35 lbf ft", pytest.approx(47.45363, rel=1e-6)),
        (TRAVEL, "100.2", pytest.approx(0.1002)),
        ("serial", " MR-9 ", "MR-9"),
        ("close/text1", "two\nlines", "two\nlines"),
    ],
)
def test_what_is_typed_is_read_as_the_field_asks(key, typed, value):
    # 1 lbf ft is 1.355818 N m (NIST SP 811).
    assert value_in(fields_of(RECORD)[key], typed, UnitSystem.METRIC) == value


@pytest.mark.parametrize(
    ("key", "typed"),
    [
        (TORQUE, "tight"),
        (TORQUE, "48 mm"),
        (TORQUE, "-48"),
        (TRAVEL, "-100 mm"),
        ("serial", ""),
        ("serial", "=1"),
        ("order", "x" * 41),
        (NOTE, "bell\a"),
        ("close/lot1", "K" * 65),
    ],
)
def test_what_cannot_be_so_is_refused(key, typed):
    with pytest.raises(StationError):
        value_in(fields_of(RECORD)[key], typed, UnitSystem.METRIC)


def test_a_customer_is_named():
    with pytest.raises(NotAllowedError, match="missing"):
        value_in(Field(CUSTOMER, "Customer", "Kim"), " ", UnitSystem.METRIC)
