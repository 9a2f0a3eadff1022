"""What two benches and a desk say of the same things, in every order in which it may arrive."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.domain.events import (
    EVENT_TYPES,
    Adopted,
    BadgeRegistered,
    BadgeSaltMade,
    Conflicted,
    InstrumentRegistered,
    LineMoved,
    MaterialClosed,
    MaterialReceived,
    OilLotClosed,
    OilLotReceived,
    OrderChanged,
    OrderedUnit,
    OrderPlaced,
    OrderUnitWithdrawn,
    PersonEnrolled,
    PersonLeft,
    PersonPrefers,
    RebuildAbandoned,
    RebuildOpened,
    SpecificationApproved,
    UnitDisposed,
    UnitFiled,
    UnitSetAside,
)
from benchstation.domain.materials import WITHDRAWN, Material, Sort
from benchstation.domain.orders import LineState, fold_orders
from benchstation.domain.shop_chain import (
    Decision,
    ShopFold,
    decisions_for,
    fold,
    kept_of,
    renamed,
    same_content,
    settle,
    strictness,
    subject_of,
    takes_away,
)
from benchstation.domain.specification import specification_from
from benchstation.domain.statements import Gas
from benchstation.domain.unit_commands import NotAllowedError
from tests.domain.shop_network import Network
from tests.samples import sample_of


def events_of(facts):
    return [fact.event for fact in facts]


def lot(name="L-1", density=850.0):
    return OilLotReceived(name, "HM32", density, 0.0003)


def enrolled(who="ana", pin="x", roles=("technician",)):
    return PersonEnrolled(who, who.title(), roles, pin)


def opened(unit, line="line-1", order="O-1"):
    return RebuildOpened(unit, f"S-{unit}", "family", "F1", 1, "L-1", order, "", line)


ORDER = OrderPlaced("O-1", "2026-04-01", "note", False, (OrderedUnit("line-1", "", "F1"),))
WRENCH = Material(Sort.WRENCH, "", "W-1", "wrench", "supplier", "2026-01-01", "2027-01-01")


# --- what an event is about ----------------------------------------------------------------------

BENCHES_OWN = {
    *("person.prefers", "day.line", "instrument.checked"),
    *("instrument.check_withdrawn", "instrument.repeatability", "instrument.responded", "air.read"),
    *("alarm.changed", "alarm.recorded", "alarm.muted", "alarm.resumed"),
    *("bench.key", "bench.loss_accepted", "bench.clock_ran_back", "bench.set_up_changed"),
    *("person.signed_in", "person.signed_out", "person.pin_refused"),
    *("person.signed_once", "person.qa_confirmed", "instrument.virtual", "paper.written"),
    *("person.search_saved", "recall.listed", "recall.notice"),
}
"""Kinds that belong to no unit and stay the bench's own all the same."""


@pytest.mark.parametrize("kind", sorted(EVENT_TYPES))
def test_every_kind_is_the_shops_or_known_to_be_the_benchs_own(kind):
    cls = EVENT_TYPES[kind]
    subject = subject_of(sample_of(cls))
    of_a_unit = "unit_id" in cls.__dataclass_fields__
    of_the_chain = kind.startswith(("bench.", "shop.")) and kind != LineMoved.kind
    if subject is None:
        assert of_a_unit or of_the_chain or kind in BENCHES_OWN
    else:
        sort, _, rest = subject.partition(":")
        assert sort.isalpha()
        assert rest
        assert kind not in BENCHES_OWN


def test_what_is_compared_without_case_is_one_subject_without_case():
    assert subject_of(lot("l-1")) == subject_of(OilLotClosed("L-1", "used up"))
    assert subject_of(OrderPlaced("o-1", "", "", False, ())) == subject_of(ORDER)
    closed = MaterialClosed(Sort.WRENCH, "", "w-1", WITHDRAWN)
    assert subject_of(closed) == subject_of(MaterialReceived(WRENCH))


def test_an_instrument_is_told_by_its_serial_number_and_without_one_is_the_benchs_own():
    one = sample_of(InstrumentRegistered)
    other = InstrumentRegistered(**{**one.body(), "instrument_id": "scale-9", "calibration": None})
    assert subject_of(one) == subject_of(other)
    bare = InstrumentRegistered(**{**one.body(), "serial_number": "", "calibration": None})
    assert subject_of(bare) is None


def test_of_a_units_way_the_shop_keeps_where_its_line_stands_and_nothing_of_other_units():
    aside = UnitSetAside("u", "step", "tool away", Gas.CHARGED)
    assert kept_of(aside, "line-1") == LineMoved("line-1", "u", "set aside", "tool away")
    assert kept_of(RebuildAbandoned("u", "bent"), "line-1").state == LineState.WAITING
    filed = UnitFiled("u", "S", "pass", qa_hold=True, record={"much": "of it"})
    assert kept_of(filed, "line-1") == LineMoved("line-1", "u", "on QA hold")
    assert kept_of(filed) is None
    assert kept_of(opened("u", line="")) is None


# --- the rule ------------------------------------------------------------------------------------


def test_a_change_that_rests_on_what_the_shop_has_is_adopted_by_all():
    net = Network()
    net.desk(lot())
    net.take("A")
    net.bench("A", OilLotClosed("L-1", WITHDRAWN, "water"))
    net.all_sent_and_taken()
    assert not fold(net.shop.entries).open
    assert events_of(net.works_with("B")) == [lot(), OilLotClosed("L-1", WITHDRAWN, "water")]


def test_one_lot_number_with_two_densities_is_a_conflict_and_the_first_stays_in_force():
    net = Network()
    net.bench("A", lot(density=850.0))
    net.bench("B", lot("l-1", density=861.0))
    net.all_sent_and_taken()
    (conflict,) = fold(net.shop.entries).open.values()
    assert conflict.fact.event == lot("l-1", 861.0)
    assert conflict.fact.bench == "B"
    assert net.shop.entries[conflict.in_force - 1].event.bench == "A"
    for name in net.benches:
        assert events_of(net.works_with(name)) == [lot(density=850.0)]


def test_the_benchs_own_version_holds_there_until_it_learns_of_the_conflict():
    net = Network()
    net.bench("A", lot(density=850.0))
    net.send("A")
    net.bench("B", lot(density=861.0))
    net.send("B")
    assert events_of(net.works_with("B")) == [lot(density=861.0)]
    net.take("B")
    assert events_of(net.works_with("B")) == [lot(density=850.0)]


def test_equal_content_from_two_benches_is_no_conflict_and_more_may_follow_on_it():
    net = Network()
    net.bench("A", lot())
    net.bench("B", lot())
    net.bench("B", OilLotClosed("L-1", WITHDRAWN, "water"))
    net.all_sent_and_taken()
    assert not fold(net.shop.entries).open


def test_a_desk_that_says_again_what_a_bench_said_before_is_not_overruled_by_that_bench():
    net = Network()
    net.bench("B", enrolled(roles=("technician",)))
    net.bench("B", enrolled(roles=("lead",)))
    net.send("B")
    net.desk(enrolled(roles=("technician",)))
    net.bench("B", enrolled(roles=("qa",)))
    net.all_sent_and_taken()
    (conflict,) = fold(net.shop.entries).open.values()
    assert conflict.fact.event.roles == ("qa",)
    assert events_of(net.works_with("A"))[-1].roles == ("technician",)


def test_who_is_taken_off_offline_is_off_at_once_though_the_desk_changed_the_pin():
    net = Network()
    net.desk(enrolled())
    net.take("A")
    net.take("B")
    net.desk(enrolled(pin="new"))
    net.bench("A", PersonLeft("ana", "left"))
    net.all_sent_and_taken()
    assert events_of(net.works_with("B"))[-1] == PersonLeft("ana", "left")
    (conflict,) = fold(net.shop.entries).open
    net.settle(fold(net.shop.entries).open[conflict], Decision.SHOP)
    net.take("B")
    assert events_of(net.works_with("B"))[-1] == enrolled(pin="new")


def test_who_did_not_know_of_an_open_lock_does_not_lift_it():
    net = Network()
    net.desk(enrolled())
    net.take("A")
    net.take("B")
    net.desk(enrolled(pin="new"))
    net.bench("A", PersonLeft("ana", "left"))
    net.send("A")
    net.bench("B", enrolled(pin="another"))
    net.all_sent_and_taken()
    assert len(fold(net.shop.entries).open) == 2
    assert events_of(net.works_with("A"))[-1] == PersonLeft("ana", "left")


def test_two_benches_start_one_line_and_a_person_says_which_unit_counts():
    net = Network()
    net.desk(ORDER)
    for name in net.benches:
        net.take(name)
    net.bench("A", opened("a"))
    net.bench("B", opened("b"))
    net.bench("B", UnitFiled("b", "S-b", "pass", qa_hold=False, record={}))
    net.all_sent_and_taken()
    (line,) = fold_orders(net.works_with("B"))["O-1"].lines
    assert (line.unit_id, line.state) == ("a", LineState.STARTED)
    (conflict,) = fold(net.shop.entries).open.values()
    assert decisions_for(conflict.fact.event) == (Decision.SHOP, Decision.BENCH, Decision.BOTH)

    net.settle(conflict, Decision.BENCH)
    (line,) = fold_orders(fold(net.shop.entries).in_force())["O-1"].lines
    assert (line.unit_id, line.state) == ("b", LineState.FILED)


def test_both_units_may_count_each_on_a_line_of_its_own():
    net = Network()
    net.desk(ORDER)
    net.desk(OrderChanged("O-1", "2026-05-01", "later", False, "customer"))
    net.take("A")
    net.take("B")
    net.bench("A", opened("a"))
    net.bench("B", opened("b"))
    net.all_sent_and_taken()
    (conflict,) = fold(net.shop.entries).open.values()
    net.settle(conflict, Decision.BOTH, "line-2", net.order())
    net.bench("B", UnitFiled("b", "S-b", "pass", qa_hold=False, record={}))
    net.all_sent_and_taken()
    order = net.order()
    assert order.lines[1].state is LineState.FILED
    assert [(line.line, line.unit_id) for line in order.lines] == [("line-1", "a"), ("line-2", "b")]
    assert (order.due, order.note) == ("2026-05-01", "later")


def test_a_line_that_was_withdrawn_at_the_desk_is_not_started_by_who_did_not_know():
    net = Network()
    net.desk(ORDER)
    net.take("A")
    net.desk(OrderUnitWithdrawn("O-1", "line-1", "cancelled"))
    net.bench("A", opened("a"))
    net.all_sent_and_taken()
    (line,) = fold_orders(net.works_with("A"))["O-1"].lines
    assert line.state is LineState.WITHDRAWN
    assert len(fold(net.shop.entries).open) == 1


def test_a_release_offline_does_not_lift_a_rejection_at_the_desk_nor_the_other_way_round():
    for desk, bench in (("rejected", "released"), ("released", "rejected")):
        net = Network()
        net.desk(UnitDisposed("u", desk, "seen"))
        net.bench("A", UnitDisposed("u", bench, "seen"))
        net.all_sent_and_taken()
        words = [e.disposition for e in events_of(net.works_with("B"))]
        assert words[-1] == "rejected"
        assert len(fold(net.shop.entries).open) == 1


def test_a_revision_is_never_put_in_anothers_place_but_may_become_the_next(spec):
    first, other = (approved(spec, title) for title in ("one", "two"))
    net = Network()
    net.bench("A", first)
    net.bench("B", other)
    net.all_sent_and_taken()
    (conflict,) = fold(net.shop.entries).open.values()
    assert decisions_for(conflict.fact.event) == (Decision.SHOP, Decision.BOTH)
    net.settle(conflict, Decision.BOTH, "7")
    kept = events_of(fold(net.shop.entries).in_force())[-1]
    assert (kept.revision, kept.title) == (7, "two")
    assert specification_from(kept.content).revision == 7
    assert specification_from(kept.content).sha256() == kept.content_sha256


def approved(spec, title):
    s = spec.model_copy(update={"title": title})
    return SpecificationApproved(s.id, s.revision, s.family, s.title, s.content(), s.sha256(), "x")


def test_a_unit_of_an_order_may_get_a_line_and_what_has_no_number_gets_no_other():
    assert renamed(PersonLeft("ana", ""), "x") == ()
    assert renamed(lot(), "L-1/B") == (lot("L-1/B"),)
    assert renamed(MaterialReceived(WRENCH), "W-2")[0].material.lot == "W-2"
    assert renamed(ORDER, "O-2")[0].order == "O-2"
    assert renamed(enrolled(), "ana-2")[0].person_id == "ana-2"


def test_two_salts_contradict_nothing():
    net = Network()
    net.bench("A", BadgeSaltMade("one"))
    net.bench("B", BadgeSaltMade("two"))
    net.bench("B", BadgeRegistered("ana", "1f", "hash"))
    net.all_sent_and_taken()
    assert not fold(net.shop.entries).open


def test_a_unit_of_a_line_that_comes_into_force_later_stands_where_it_stood():
    net = Network()
    net.desk(ORDER)
    net.take("A")
    net.desk(OrderChanged("O-1", "2026-05-01", "hurry", False, "customer"))
    more = OrderChanged("O-1", "2026-04-01", "note", False, "more", (OrderedUnit("line-b"),))
    net.bench("A", more)
    net.bench("A", opened("a", "line-b"))
    net.bench("A", UnitFiled("a", "S-a", "pass", qa_hold=False, record={}))
    net.all_sent_and_taken()
    assert [line.line for line in net.order().lines] == ["line-1"]
    (conflict,) = fold(net.shop.entries).open.values()
    net.settle(conflict, Decision.BENCH)
    line = net.order().lines[1]
    assert (line.line, line.unit_id, line.state) == ("line-b", "a", LineState.FILED)


def test_two_who_take_the_same_away_for_two_reasons_do_not_contradict_each_other():
    net = Network()
    net.desk(lot())
    net.desk(enrolled())
    for name in net.benches:
        net.take(name)
        net.bench(name, OilLotClosed("L-1", WITHDRAWN, f"seen at {name}"))
        net.bench(name, PersonLeft("ana", f"told at {name}"))
        net.bench(name, UnitDisposed("u", "held", f"seen at {name}"))
    net.all_sent_and_taken()
    assert not fold(net.shop.entries).open
    assert len(fold(net.shop.entries).facts) == 8


# --- any order -----------------------------------------------------------------------------------

FACTS = st.sampled_from(
    [
        lot(density=850.0),
        lot(density=861.0),
        OilLotClosed("L-1", WITHDRAWN, "water"),
        OilLotClosed("L-1", "used up"),
        enrolled(),
        enrolled(pin="y"),
        PersonLeft("ana", "left"),
        BadgeRegistered("ana", "", ""),
        PersonPrefers("ana", units="US"),
        UnitDisposed("u", "released", "ok"),
        UnitDisposed("u", "held", "look"),
        UnitDisposed("u", "rejected", "bent"),
        MaterialReceived(WRENCH),
        MaterialClosed(Sort.WRENCH, "", "W-1", WITHDRAWN, "fell"),
        ORDER,
        OrderUnitWithdrawn("O-1", "line-1", "cancelled"),
        opened("a"),
        opened("b"),
        UnitSetAside("a", "step", "tool", Gas.CHARGED),
    ]
)
HAPPENINGS = st.lists(
    st.one_of(
        st.tuples(st.just("desk"), FACTS),
        st.tuples(st.sampled_from("AB"), FACTS),
        st.tuples(st.sampled_from(["take A", "take B", "send A", "send B"]), st.integers(1, 4)),
    ),
    max_size=40,
)


def played(happenings):
    net = Network()
    for who, what in happenings:
        act, _, name = who.partition(" ")
        if act == "take":
            net.take(name)
        elif act == "send":
            net.send(name, what)
        elif who == "desk" and subject_of(what) is not None:
            net.desk(what)
        elif who != "desk":
            net.bench(who, what)
    net.all_sent_and_taken()
    return net


@settings(max_examples=60, deadline=None)
@given(HAPPENINGS)
def test_once_all_is_taken_all_work_with_the_same(happenings):
    net = played(happenings)
    everywhere = fold(net.shop.entries).in_force()
    for name in net.benches:
        assert net.works_with(name) == everywhere


@settings(max_examples=60, deadline=None)
@given(HAPPENINGS)
def test_nothing_is_lost_and_nothing_is_decided_twice(happenings):
    net = played(happenings)
    decided = [e.event for e in net.shop.entries if isinstance(e.event, Adopted | Conflicted)]
    for name, chain in net.benches.items():
        due = [
            (e.seq, e.hash, kept.kind)
            for e in chain.entries
            if (kept := kept_of(e.event, net.lines.get(getattr(e.event, "unit_id", ""), "")))
        ]
        assert [(d.seq, d.hash, d.what) for d in decided if d.bench == name] == due


@settings(max_examples=60, deadline=None)
@given(HAPPENINGS)
def test_no_later_arrival_silently_replaces_what_its_bench_did_not_know(happenings):
    net = played(happenings)
    known = ShopFold()
    for entry in net.shop.entries:
        event = entry.event
        last = {subject_of(f.event): f for f in known.facts if not is_move(f.event)}
        known.take(entry)
        if not isinstance(event, Adopted) or is_move(known.facts[-1].event):
            continue
        adopted = known.facts[-1]
        replaced = last.get(subject_of(adopted.event))
        taken = net.taken(event.bench, event.seq)
        knew = (
            replaced is None
            or replaced.seq <= taken
            or replaced.bench == event.bench
            or same_content(replaced.event, adopted.event)
        )
        assert knew


def is_move(event):
    return isinstance(event, LineMoved)


@settings(max_examples=60, deadline=None)
@given(HAPPENINGS)
def test_what_takes_away_is_in_force_from_its_arrival_until_it_is_settled(happenings):
    net = played(happenings)
    known = ShopFold()
    for entry in net.shop.entries:
        known.take(entry)
        inner = known.facts[-1] if known.facts else None
        if isinstance(entry.event, Conflicted):
            inner = known.open[entry.seq].fact
        if inner is not None and inner.seq == entry.seq and takes_away(inner.event):
            assert holds(inner, known)
    for conflict in known.open.values():
        assert takes_away(conflict.fact.event) is (
            conflict.fact in known.in_force() or strictly_more(conflict.fact, known)
        )


def holds(fact, known):
    return fact in known.in_force() or strictly_more(fact, known)


def strictly_more(fact, known):
    """Whether the last word of its kind about the subject takes away more."""
    about = [
        f.event
        for f in known.in_force()
        if type(f.event) is type(fact.event) and subject_of(f.event) == subject_of(fact.event)
    ]
    return takes_away(fact.event) and bool(about) and strictness(about[-1]) > strictness(fact.event)


@pytest.mark.parametrize(("desk", "bench"), [("rejected", "held"), ("held", "rejected")])
def test_of_two_words_that_take_away_the_stricter_holds(desk, bench):
    net = Network()
    net.desk(UnitDisposed("u", desk, "seen"))
    net.bench("A", UnitDisposed("u", bench, "seen"))
    net.all_sent_and_taken()
    assert events_of(net.works_with("B"))[-1].disposition == "rejected"


@settings(max_examples=50, deadline=None)
@given(HAPPENINGS, st.sampled_from(Decision))
def test_a_settled_conflict_leaves_the_list_and_all_agree_again(happenings, decision):
    net = played(happenings)
    for conflict in list(fold(net.shop.entries).open.values()):
        event = conflict.fact.event
        can = decision in decisions_for(event)
        order = net.order()
        if isinstance(event, RebuildOpened) and order is None:
            can = can and decision is not Decision.BOTH
        net.settle(conflict, decision if can else Decision.SHOP, "other", order)
    net.all_sent_and_taken()
    known = fold(net.shop.entries)
    assert not known.open
    for name in net.benches:
        assert net.works_with(name) == known.in_force()


@pytest.mark.parametrize(
    ("decision", "reason", "other", "said"),
    [
        (Decision.SHOP, " ", "", "needs a reason"),
        (Decision.BOTH, "seen", " ", "other number is missing"),
        (Decision.BENCH, "seen", "", "cannot be settled so"),
    ],
)
def test_settling_needs_a_reason_and_a_number_where_both_are_kept(decision, reason, other, said):
    net = Network()
    net.bench("A", ORDER)
    net.bench("B", OrderPlaced("O-1", "", "another", False, ()))
    net.all_sent_and_taken()
    (conflict,) = fold(net.shop.entries).open.values()
    with pytest.raises(NotAllowedError, match=said):
        settle(conflict, decision, reason, other)
