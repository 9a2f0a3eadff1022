"""What came from the shop, in words: what weighs comes first, what is the same is not said."""

from dataclasses import replace

import pytest

from benchstation.bench.messages import Severity
from benchstation.bench.shop_news import MOST, lots_in, news
from benchstation.demo import shop as demo
from benchstation.domain.events import (
    MaterialClosed,
    OilLotClosed,
    OilLotReceived,
    OrderedUnit,
    OrderPlaced,
    PersonEnrolled,
    PersonLeft,
    PersonPrefers,
    SpecificationApproved,
)
from benchstation.domain.materials import WITHDRAWN, Sort
from benchstation.domain.specification import StepKind
from tests.oil_hands import tare
from tests.shop_stand_in import ShopStandIn, stepping
from tests.stepped_bench import START, make_bench


@pytest.fixture
def shops(bench):
    """The shop as it was, and one that is brought up to date."""
    before = bench.session.shop
    after = replace(
        before,
        people=dict(before.people),
        lots=dict(before.lots),
        specifications=dict(before.specifications),
        closed_lots=dict(before.closed_lots),
        stock=replace(
            before.stock,
            received=dict(before.stock.received),
            closed=dict(before.stock.closed),
        ),
    )
    return before, after


def approved(shop):
    known = next(iter(shop.specifications.values()))
    s = known.model_copy(update={"revision": known.revision + 1})
    return SpecificationApproved(s.id, s.revision, s.family, s.title, s.content(), s.sha256(), "")


LEAD_ROLES = ("technician",)
SAID = {
    "a person who left": (PersonLeft(demo.LEAD, "moved"), "has left and signs no longer", True),
    "roles": (PersonEnrolled(demo.LEAD, "Selma", LEAD_ROLES, "x"), "Selma is technician now", True),
    "a new person": (
        PersonEnrolled("new", "Nora New", ("qa",), "x"),
        "Nora New is enrolled",
        False,
    ),
    "a lot withdrawn": (
        OilLotClosed("L-0417", WITHDRAWN, "water"),
        "Lot L-0417 is withdrawn: water",
        True,
    ),
    "a lot used up": (OilLotClosed("L-0417", "used up"), "Lot L-0417 is used up", False),
    "a new lot": (OilLotReceived("L-9", "oil", 850.0, 3e-4), "Lot L-9 is received", False),
    "how somebody likes it": (PersonPrefers(demo.LEAD, "metric"), "", False),
}


@pytest.mark.parametrize(("event", "words", "weighs"), SAID.values(), ids=SAID.keys())
def test_each_change_has_its_sentence(shops, event, words, weighs):
    before, after = shops
    after.take(event)
    told = list(news(before, after))
    if not words:
        assert told == []
        return
    ((sentence, heavy),) = told
    assert words in sentence
    assert heavy is weighs


def test_a_revision_and_a_withdrawn_kit_are_told(shops):
    before, after = shops
    after.take(approved(before))
    kit = next(m for m in before.stock.received.values() if m.sort is Sort.KIT)
    after.take(MaterialClosed(kit.sort, kit.number, kit.lot, WITHDRAWN, "swells"))
    told = [sentence for sentence, _ in news(before, after)]
    assert told[0] == f"{kit.lot} is withdrawn: swells."
    assert told[1].endswith("revision 2, is in force.")


def test_another_oil_under_the_own_number_is_told(shops):
    before, after = shops
    after.disputed = frozenset({"L-0417"})
    assert [*news(before, after)] == [
        ("Lot L-0417 is another oil in the shop: see To settle (Shift+F4).", True)
    ]


def test_a_person_who_is_another_in_the_shop_is_told(shops):
    before, after = shops
    del after.people[demo.LEAD]
    ((sentence, weighs),) = news(before, after)
    assert "is another person in the shop" in sentence
    assert weighs


@pytest.fixture
def joined(tmp_path):
    bench = make_bench(tmp_path)
    shop = ShopStandIn(tmp_path, stepping(START))
    shop.exchange(bench.store)
    yield bench, shop
    bench.store.close()
    shop.close()


def test_many_changes_are_told_by_the_first_few_and_a_count(joined):
    bench, shop = joined
    shop.desk(*(OilLotReceived(f"L-9{n}", "oil", 850.0, 3e-4) for n in range(MOST + 2)))
    shop.take(bench.store)
    bench.run(0.2)
    said = bench.session.message
    assert said.text.startswith("From the shop: Lot L-90 is received.")
    assert said.text.endswith("And 2 more.")
    assert said.severity is Severity.NORMAL


def test_where_a_line_of_another_bench_stands_is_not_told(joined):
    bench, shop = joined
    before = bench.session.message
    shop.desk(OrderPlaced("O-1", "", "", False, (OrderedUnit("line-1"),)))
    shop.take(bench.store)
    bench.run(0.2)
    assert bench.session.message == before
    assert bench.session.shop.known_to == bench.store.shop_seq


def test_the_lots_of_a_unit_are_kept_as_they_are_and_go_with_it(joined):
    bench, shop = joined
    bench.work_to(StepKind.WEIGH)
    tare(bench, "body")
    (lot,) = lots_in(bench.session.rebuild)
    known = bench.session.shop.lots[lot]
    shop.desk(replace(known, rho15_kg_m3=900.0))
    shop.take(bench.store)
    bench.run(0.2)
    assert bench.session.shop.lots[lot] == known
    bench.session.on_bench.take(None)
    assert bench.session.shop.lots[lot].rho15_kg_m3 == 900.0
    assert lots_in(None) == set()
