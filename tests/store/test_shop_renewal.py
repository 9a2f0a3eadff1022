"""The searched tables of two benches and of a desk, as the shop's chain comes to each."""

from contextlib import suppress
from dataclasses import replace

import pytest

from benchstation.domain.disposition import Standing
from benchstation.domain.events import (
    LearnedLate,
    OilLotClosed,
    OilLotReceived,
    OrderChanged,
    OrderedUnit,
    OrderPlaced,
    PersonEnrolled,
    PersonLeft,
    RebuildOpened,
    ReleaseRuleSet,
    ShopJoined,
    SpecificationApproved,
    UnitAmended,
    UnitDisposed,
    UnitFiled,
    UnitSetAside,
    UnitShipped,
)
from benchstation.domain.materials import WITHDRAWN
from benchstation.domain.orders import LineState, fold_orders
from benchstation.domain.shop_chain import Decision, Subject, settle
from benchstation.domain.statements import Code, Gas
from benchstation.store.engine import open_store
from benchstation.store.errors import NotInOrderError
from benchstation.store.order_queries import get_line, get_order
from benchstation.store.queries import get_unit
from tests.filed_records import filing_of
from tests.samples import sample_of
from tests.shop_stand_in import ShopStandIn, stepping
from tests.store.conftest import START


class Shop:
    """Two benches, a desk, one clock."""

    def __init__(self, folder):
        self.clock = stepping(START)
        self.stand_in = ShopStandIn(folder, self.clock)
        self.a, self.b = (open_store(folder / f"{n}.sqlite", f"bench-{n}") for n in "ab")

    def close(self):
        for store in (self.a, self.b, self.stand_in.store):
            store.close()

    def add(self, store, *events, person="ana"):
        return store.append(events, person=person, utc=self.clock())

    def exchange(self):
        self.stand_in.exchange(self.a, self.b)

    def settle(self, decision, other="", order=None):
        (conflict,) = self.stand_in.store.conflicts()
        self.stand_in.desk(*settle(conflict, decision, "seen both", other, order))
        self.exchange()


@pytest.fixture
def shop(tmp_path):
    made = Shop(tmp_path)
    yield made
    for store in (made.a, made.b):
        assert store.verify().problem == ""
        again = store.rebuild_projections()
        assert again >= store.head()[0]
        assert store.verify().problem == "", "made again from the journal it is the same"
    whole = made.stand_in.store
    folded = fold_orders(whole.facts(Subject.ORDER, Subject.LINE, Subject.UNIT))
    for name, order in folded.items():
        assert get_order(whole, name) == order, "moved one by one it is as folded at once"
    made.close()


def opened(unit, line="line-1", lot="L-1", revision=1):
    return RebuildOpened(
        unit, f"S-{unit}", "family", "F1", revision, lot, "O-1" if line else "", "", line
    )


def filed(unit):
    return UnitFiled(unit, f"S-{unit}", "pass", qa_hold=False, record={})


def approved(revision):
    return SpecificationApproved("F1", revision, "family", f"title {revision}", {}, f"{revision}")


ORDER = OrderPlaced(
    "O-1", "2026-04-01", "note", False, (OrderedUnit("line-1"), OrderedUnit("line-2"))
)
LOT = OilLotReceived("L-1", "HM32", 850.0, 3e-4)
WATER = OilLotClosed("L-1", WITHDRAWN, "water")


def test_an_order_of_the_desk_is_worked_at_both_benches_and_seen_everywhere(shop):
    shop.stand_in.desk(ORDER)
    shop.exchange()
    shop.add(shop.a, opened("a"))
    shop.add(shop.b, opened("b", "line-2"))
    shop.add(shop.b, UnitSetAside("b", "step", "tool away", Gas.CHARGED))
    shop.exchange()
    shop.exchange()
    for store in (shop.a, shop.b, shop.stand_in.store):
        one, two = get_order(store, "o-1").lines
        assert (one.state, one.unit_id, one.serial) == (LineState.STARTED, "a", "S-a")
        assert (two.state, two.unit_id, two.reason) == (LineState.ASIDE, "b", "tool away")


def test_a_change_of_the_order_comes_down_without_disturbing_what_was_begun(shop):
    shop.add(shop.a, ORDER, opened("a"))
    shop.exchange()
    shop.stand_in.desk(
        OrderChanged("O-1", "2026-05-01", "hurry", True, "customer", (OrderedUnit("line-3"),))
    )
    shop.exchange()
    order = get_order(shop.a, "O-1")
    assert (order.due, order.note, order.matched) == ("2026-05-01", "hurry", True)
    assert [line.state for line in order.lines] == [
        LineState.STARTED, LineState.WAITING, LineState.WAITING
    ]  # fmt: skip


def test_of_two_units_for_one_line_the_second_is_held_until_a_person_says_which_counts(shop):
    shop.stand_in.desk(ORDER)
    shop.exchange()
    shop.add(shop.a, opened("a"))
    shop.add(shop.b, opened("b"), filed("b"))
    assert get_line(shop.b, "line-1").unit_id == "b"
    shop.exchange()
    for store in (shop.a, shop.b, shop.stand_in.store):
        assert get_line(store, "line-1").unit_id == "a"
    (late,) = [e.event for e in shop.b.entries(kind=LearnedLate.kind)]
    assert (late.unit_id, late.what.code) == ("b", Code.LINE_TAKEN_TWICE)
    assert get_unit(shop.b, "b").disposition == "held"

    shop.settle(Decision.BENCH)
    for store in (shop.a, shop.b, shop.stand_in.store):
        assert get_line(store, "line-1").unit_id == "b"
    assert get_line(shop.b, "line-1").state is LineState.HELD


def test_both_units_may_count_the_second_on_a_line_of_its_own(shop):
    shop.stand_in.desk(ORDER)
    shop.exchange()
    shop.add(shop.a, opened("a"))
    shop.add(shop.b, opened("b"))
    shop.exchange()
    shop.settle(Decision.BOTH, "line-9", get_order(shop.stand_in.store, "O-1"))
    shop.add(shop.b, filed("b"))
    shop.exchange()
    shop.exchange()
    for store in (shop.a, shop.b, shop.stand_in.store):
        states = {line.line: (line.unit_id, line.state) for line in get_order(store, "O-1").lines}
        assert states["line-1"] == ("a", LineState.STARTED)
        assert states["line-9"] in {("b", LineState.HELD), ("b", LineState.FILED)}


def test_what_two_benches_call_by_one_name_is_kept_under_another(shop):
    shop.add(shop.a, ORDER)
    shop.add(shop.b, OrderPlaced("o-1", "", "another", False, (OrderedUnit("line-b"),)))
    shop.exchange()
    assert get_order(shop.b, "o-1").note == "note"
    shop.settle(Decision.BOTH, "O-1 B")
    for store in (shop.a, shop.b):
        assert [line.line for line in get_order(store, "O-1 B").lines] == ["line-b"]
        assert len(get_order(store, "O-1").lines) == 2


def test_a_revision_of_the_desk_is_in_force_at_the_benches_and_older_work_is_named(shop):
    shop.stand_in.desk(approved(1))
    shop.exchange()
    shop.add(shop.a, opened("before", "", ""), filed("before"))
    shop.stand_in.desk(approved(2))
    shop.add(shop.a, opened("a", "", ""), filed("a"))
    shop.add(shop.a, opened("open", "", ""))
    shop.exchange()
    assert max(shop.a.specifications()) == ("F1", 2)
    late = {e.event.unit_id: e.event.what for e in shop.a.entries(kind=LearnedLate.kind)}
    assert late.keys() == {"a", "open"}
    assert late["a"].values == {"revision": 1, "newer": 2}
    assert get_unit(shop.a, "a").disposition == "held"
    assert get_unit(shop.a, "before").disposition == ""


def test_a_unit_on_a_revision_that_only_this_bench_approved_so_is_named(shop):
    shop.add(shop.a, approved(1))
    shop.exchange()
    shop.add(shop.a, approved(2))
    other = SpecificationApproved("F1", 2, "family", "another", {"n": 1}, "other")
    shop.add(shop.b, other, opened("b", "", "", revision=2), filed("b"))
    shop.exchange()
    assert shop.b.specifications()["F1", 2] == approved(2)
    codes = {e.event.unit_id: e.event.what.code for e in shop.b.entries(kind=LearnedLate.kind)}
    assert codes == {"b": Code.OTHER_REVISION}
    assert get_unit(shop.b, "b").disposition == "held"
    assert shop.b.specification_at(opened("b", revision=2), 4) == other


def test_a_line_that_is_settled_into_its_order_stands_as_its_unit_does(shop):
    shop.stand_in.desk(ORDER)
    shop.exchange()
    shop.stand_in.desk(OrderChanged("O-1", "2026-05-01", "hurry", False, "customer"))
    more = OrderChanged("O-1", "2026-04-01", "note", False, "more", (OrderedUnit("line-b"),))
    shop.add(shop.a, more, opened("a", "line-b"), filed("a"))
    shop.exchange()
    assert get_line(shop.a, "line-b") is None
    shop.settle(Decision.BENCH)
    for store in (shop.a, shop.b, shop.stand_in.store):
        line = get_line(store, "line-b")
        assert (line.unit_id, line.state) == ("a", LineState.FILED)


def test_a_person_who_was_locked_is_so_everywhere_and_what_was_signed_since_is_held(shop):
    shop.stand_in.desk(PersonEnrolled("ana", "Ana", ("technician",), "x"))
    shop.exchange()
    shop.add(shop.a, opened("before", "", ""), filed("before"))
    shop.stand_in.desk(PersonLeft("ana", "left"))
    shop.add(shop.a, opened("a", "", ""), filed("a"))
    shop.add(shop.a, opened("bens", "", ""), filed("bens"), person="ben")
    shop.exchange()
    late = {e.event.unit_id: e.event.what for e in shop.a.entries(kind=LearnedLate.kind)}
    assert {unit: what.values["person"] for unit, what in late.items()} == {"a": "Ana"}
    (said,) = [e.event for e in shop.a.entries(kind=UnitDisposed.kind)]
    assert said == UnitDisposed("a", "held", "Ana signed here after the shop had taken them off.")


def test_a_lot_that_was_withdrawn_before_a_unit_was_filed_holds_it(shop):
    shop.stand_in.desk(LOT)
    shop.exchange()
    shop.stand_in.desk(WATER)
    shop.add(shop.a, opened("a", ""), filed("a"))
    shop.add(shop.a, opened("open", ""))
    shop.exchange()
    late = [e.event.unit_id for e in shop.a.entries(kind=LearnedLate.kind)]
    assert late == ["a"], "the one that is not filed is stopped at its filing"
    assert get_unit(shop.a, "a").disposition == "held"


def test_what_was_signed_in_a_role_that_was_taken_off_meanwhile_is_held(shop):
    """Nobody found it: only who had left altogether was looked for."""
    shop.stand_in.desk(PersonEnrolled("ana", "Ana", ("technician", "qa"), "x"))
    shop.stand_in.desk(PersonEnrolled("ben", "Ben", ("qa",), "x"))
    shop.exchange()
    shop.add(shop.a, opened("a", "", ""), filed("a"), UnitDisposed("a", "released", "seen"))
    shop.stand_in.desk(PersonEnrolled("ana", "Ana", ("technician",), "x"))
    shop.stand_in.desk(PersonEnrolled("ben", "Ben", ("qa",), "another PIN"))
    shop.add(shop.a, opened("b", "", ""), filed("b"), UnitDisposed("b", "released", "seen"))
    shop.add(shop.a, opened("c", "", ""), filed("c"))
    shop.add(shop.a, UnitDisposed("c", "released", "seen"), person="ben")
    shop.exchange()
    late = {e.event.unit_id: e.event.what for e in shop.a.entries(kind=LearnedLate.kind)}
    assert late.keys() == {"b"}, "she may work still; a new PIN takes nothing from him"
    assert late["b"].values == {"person": "Ana", "roles": "technician"}
    assert standing(shop.a, "b") is Standing.ON_HOLD
    assert {standing(shop.a, unit) for unit in "ac"} == {Standing.RELEASED}


def test_who_confirmed_as_second_person_after_having_left_is_found_too(shop):
    shop.stand_in.desk(PersonEnrolled("lea", "Lea", ("lead",), "x"))
    unit = opened("a", "", "")
    shop.add(shop.a, unit, filing_of("a", unit.serial), UnitDisposed("a", "released", "seen"))
    shop.exchange()
    shop.stand_in.desk(PersonLeft("lea", "left"))
    shop.add(shop.a, UnitAmended("a", "serial", unit.serial, "S-9", "typed wrong", "lea"))
    shop.exchange()
    (late,) = [e.event for e in shop.a.entries(kind=LearnedLate.kind)]
    assert late.what.values == {"person": "Lea"}
    assert standing(shop.a, "a") is Standing.ON_HOLD


def test_a_unit_on_hold_already_is_held_for_what_was_learned_too(shop):
    """Else it was released for the reason that QA knew, and nobody had named the lot."""
    shop.stand_in.desk(LOT)
    shop.exchange()
    shop.stand_in.desk(WATER)
    shop.add(shop.a, opened("a", ""), replace(filed("a"), qa_hold=True))
    shop.add(shop.a, UnitDisposed("a", "held", "paint"))
    shop.add(shop.a, opened("b", "", "l-1"), filed("b"), UnitDisposed("b", "rejected", "bent"))
    shop.exchange()
    words = [e.event for e in shop.a.entries(unit_id="a", kind=UnitDisposed.kind)]
    assert [word.disposition for word in words] == ["held", "held"]
    assert words[-1].reason == "lot L-1 is withdrawn: water."
    late = {e.event.unit_id for e in shop.a.entries(kind=LearnedLate.kind)}
    assert late == {"a", "b"}, "a lot's number is one without its case"
    assert standing(shop.a, "b") is Standing.REJECTED


def test_nothing_is_said_twice_nor_of_work_before_the_bench_belonged_to_the_shop(shop):
    shop.stand_in.desk(PersonLeft("ana", "long ago"))
    shop.add(shop.a, opened("a", "", ""), filed("a"))
    shop.add(shop.a, ShopJoined("s-1", "Shop"))
    shop.exchange()
    shop.exchange()
    assert shop.a.entries(kind=LearnedLate.kind) == []


@pytest.mark.parametrize("at_desk", ["rejected", "released"])
def test_of_qas_words_at_bench_and_desk_the_stricter_stands_until_a_person_decides(shop, at_desk):
    at_bench = {"rejected": "released", "released": "rejected"}[at_desk]
    shop.add(shop.a, opened("a", "", ""), filed("a"))
    shop.exchange()
    shop.stand_in.desk(UnitDisposed("a", at_desk, "seen at the desk"))
    shop.add(shop.a, UnitDisposed("a", at_bench, "seen at the bench"))
    assert standing(shop.a, "a").value == at_bench, "it does not know of the other yet"
    shop.exchange()
    assert standing(shop.a, "a") is Standing.REJECTED
    shop.settle(Decision.SHOP)
    assert standing(shop.a, "a").value == at_desk


def standing(store, unit_id):
    return Standing(get_unit(store, unit_id).standing)


def test_one_lot_number_with_two_densities_keeps_what_was_known_when_each_was_used(shop):
    shop.add(shop.a, LOT)
    other = OilLotReceived("L-1", "HM32", 861.0, 3e-4)
    shop.add(shop.b, other, opened("b", ""))
    seq = shop.b.head()[0]
    shop.exchange()
    assert shop.b.lots()["L-1"] == LOT
    assert [fact.event for fact in shop.b.facts(Subject.LOT, before=seq)] == [other]


def test_what_was_read_before_is_read_again_when_either_chain_grew(shop):
    assert shop.a.people() == {}
    shop.add(shop.a, PersonEnrolled("ana", "Ana", ("qa",), "x"))
    assert set(shop.a.people()) == {"ana"}
    shop.exchange()
    assert shop.a.facts(Subject.PERSON) is shop.a.facts(Subject.PERSON)
    shop.stand_in.desk(PersonEnrolled("ben", "Ben", ("qa",), "x"))
    assert set(shop.a.people()) == {"ana"}
    shop.exchange()
    assert set(shop.a.people()) == {"ana", "ben"}
    with suppress(ZeroDivisionError), shop.a.bulk():
        shop.add(shop.a, PersonEnrolled("cis", "Cis", ("qa",), "x"))
        assert set(shop.a.people()) == {"ana", "ben", "cis"}
        raise ZeroDivisionError
    shop.add(shop.a, PersonEnrolled("dan", "Dan", ("qa",), "x"))
    assert set(shop.a.people()) == {"ana", "ben", "dan"}


# --- after filing --------------------------------------------------------------------------------


def shipped(unit="a"):
    return replace(sample_of(UnitShipped), unit_id=unit, customer="Kim")


def released_and_taken(shop):
    shop.add(shop.a, opened("a", "", ""), filed("a"), UnitDisposed("a", "released", "seen"))
    shop.exchange()


@pytest.mark.parametrize(
    ("at_desk", "stands"),
    [("held", Standing.SHIPPED_HELD), ("rejected", Standing.SHIPPED_REJECTED)],
)
def test_what_left_while_the_desk_stopped_it_stands_as_both_and_waits_for_a_notice(
    shop, at_desk, stands
):
    released_and_taken(shop)
    shop.stand_in.desk(UnitDisposed("a", at_desk, "seen at the desk"))
    shop.add(shop.a, shipped())
    assert standing(shop.a, "a") is Standing.SHIPPED
    shop.exchange()
    row = get_unit(shop.a, "a")
    assert row.standing == standing(shop.a, "a") == stands
    assert row.notice == stands.removeprefix("shipped, then ")
    assert shop.a.conflicts() == [], "what happened is not to be settled"


def test_a_bench_ships_nothing_on_a_release_that_it_does_not_know(shop):
    shop.add(shop.a, opened("a", "", ""), filed("a"))
    shop.exchange()
    shop.stand_in.desk(UnitDisposed("a", "released", "seen at the desk"))
    with pytest.raises(NotInOrderError, match="not released yet"):
        shop.add(shop.a, shipped())
    shop.exchange()
    shop.add(shop.a, shipped())
    assert standing(shop.a, "a") is Standing.SHIPPED


def test_a_release_by_one_is_held_where_the_shop_had_two_do_it(shop):
    shop.add(shop.a, opened("a", "", ""), filed("a"))
    shop.exchange()
    shop.stand_in.desk(ReleaseRuleSet(2, "as the customer has it"))
    shop.add(shop.a, UnitDisposed("a", "released", "seen"))
    shop.exchange()
    (late,) = [e.event for e in shop.a.entries(kind=LearnedLate.kind)]
    assert (late.unit_id, late.what.code) == ("a", Code.ONE_SIGNATURE)
    assert standing(shop.a, "a") is Standing.ON_HOLD
    with pytest.raises(NotInOrderError, match="two people"):
        shop.add(shop.a, UnitDisposed("a", "released", "seen"))


def test_a_release_that_did_not_see_an_amendment_waits_for_a_person(shop):
    unit = opened("a", "", "")
    shop.add(shop.a, unit, filing_of("a", unit.serial))
    shop.exchange()
    amended = UnitAmended("a", "close/torque1", 45.0, 54.0, "typed wrong", "lea", "fail")
    shop.stand_in.desk(amended)
    shop.add(shop.a, UnitDisposed("a", "released", "seen"))
    shop.exchange()
    assert standing(shop.a, "a") is Standing.ON_HOLD
    assert len(shop.a.conflicts()) == 1
