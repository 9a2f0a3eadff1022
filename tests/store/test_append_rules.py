import pytest

from benchstation.domain.events import (
    AlarmChanged,
    RebuildAbandoned,
    SpecificationApproved,
    StepSigned,
    UnitDisposed,
)
from benchstation.store.errors import NotInOrderError


def signed(unit="u1"):
    return StepSigned(unit, "strip")


def test_one_unit_at_a_time_from_opening_to_filing(store, add, opening, filing):
    assert store.open_unit() is None
    add(opening(), signed())
    assert store.open_unit() == "u1"
    add(filing())
    assert store.open_unit() is None
    add(opening("u2"))
    assert store.open_unit() == "u2"


def test_another_unit_waits_until_the_bench_is_free(store, add, opening):
    add(opening())
    with pytest.raises(NotInOrderError, match="MR-2231 is still on the bench"):
        add(opening("u2", "MR-9"))
    assert store.head()[0] == 1


def test_a_unit_is_opened_once(store, add, opening, filing):
    add(opening(), filing())
    with pytest.raises(NotInOrderError, match="opened before"):
        add(opening())


@pytest.mark.parametrize("late", [signed(), RebuildAbandoned("u1", "x")])
def test_nothing_follows_filing(store, add, opening, filing, late):
    add(opening(), filing())
    for event in (late, filing()):
        with pytest.raises(NotInOrderError, match="is filed already"):
            add(event)
    assert store.head()[0] == 2


def test_nothing_follows_abandoning(store, add, opening, filing):
    add(opening(), RebuildAbandoned("u1", "bent rod"))
    for event in (signed(), filing(), UnitDisposed("u1", "released", "")):
        with pytest.raises(NotInOrderError):
            add(event)


def test_a_unit_filed_twice_in_one_go_leaves_nothing(store, add, opening, filing):
    with pytest.raises(NotInOrderError, match="filed already"):
        add(opening(), filing(), filing())
    assert store.head()[0] == 0
    assert store.open_unit() is None


def test_a_unit_that_was_never_opened_has_no_events(add):
    with pytest.raises(NotInOrderError, match="never opened"):
        add(signed("u9"))


def test_only_a_filed_unit_is_released_and_qa_may_change_its_mind(store, add, opening, filing):
    add(opening())
    with pytest.raises(NotInOrderError, match="only a filed unit"):
        add(UnitDisposed("u1", "released", ""))
    add(filing(), UnitDisposed("u1", "held", "look"), UnitDisposed("u1", "released", "fine"))
    assert store.head()[0] == 4


def test_an_alarm_is_always_taken(store, add, opening, filing):
    add(opening(), filing())
    for unit in ("u1", "", "unknown"):
        add(AlarmChanged(unit, f"e{unit}", "high limit", "normal", None, None, None, "hose"))
    assert store.head()[0] == 5


def test_an_approved_revision_is_never_edited(store, add):
    def approved(content):
        return SpecificationApproved("s", 1, "MR 46", "Front", {"c": content}, content * 64)

    add(approved("a"), approved("a"))
    with pytest.raises(NotInOrderError, match="next revision"):
        add(approved("b"))
    assert store.specifications()["s", 1].content == {"c": "a"}
