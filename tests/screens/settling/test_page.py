"""The page To settle at a bench and at the desk, and the commands that settle, each with a PIN."""

import pytest

from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.shop import shop_from
from benchstation.demo import shop as demo
from benchstation.domain.events import (
    EVENT_TYPES,
    OilLotReceived,
    OrderedUnit,
    OrderPlaced,
    PersonEnrolled,
    Settled,
    SpecificationApproved,
    UnitDisposed,
)
from benchstation.domain.people import Role
from benchstation.domain.shop_chain import HAPPENED, decisions_for, subject_of
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import METRIC
from benchstation.screens.settling.page import ACTS, Settling
from benchstation.screens.settling.versions import kind_of, terms_of, title_of
from benchstation.store.engine import open_store
from benchstation.store.errors import NotOnRecordError
from benchstation.store.order_queries import get_order
from tests.samples import sample_of
from tests.shop_stand_in import ShopStandIn
from tests.stepped_bench import make_bench

OIL = "ISO VG 15 damper oil"


class Desk:
    """A session whose records are the shop's, and two benches that exchange with it."""

    def __init__(self, folder):
        self.bench = make_bench(folder, name="one.sqlite", seconds=0)
        self.stand_in = ShopStandIn(folder, self.bench.clock.clock.utc)
        self.stand_in.send(self.bench.store)
        self.other = open_store(folder / "two.sqlite", "bench-9")
        self.stand_in.take(self.other)
        self.own, self.session = self.bench.store, self.bench.session
        self.session.store = self.session.on_bench.store = self.stand_in.store
        self.look()

    def look(self):
        """Let the desk work with the shop's chain as it is now."""
        fresh = shop_from(self.stand_in.store, "Shop", "shop", {})
        self.session.shop.renew(fresh, ())

    def say(self, store, *events):
        store.append(events, person=demo.LEAD, utc=self.bench.clock.clock.utc())

    def send(self):
        self.stand_in.send(self.own)
        self.stand_in.send(self.other)
        self.look()

    @property
    def page(self):
        return Settling(self.stand_in.store)

    def settle(self, action, **fields):
        (row, *_) = self.page.rows()
        given = {"conflict": row.key, "reason": "seen both", "signature": demo.PIN} | fields
        return self.session.act(action, given)


@pytest.fixture
def desk(tmp_path):
    made = Desk(tmp_path)
    made.bench.sign_in(demo.LEAD)
    yield made
    for store in (made.own, made.other, made.stand_in.store):
        store.close()


@pytest.fixture
def two_oils(desk):
    desk.say(desk.own, OilLotReceived("L-9", OIL, 850.0, 3e-4))
    desk.say(desk.other, OilLotReceived("L-9", OIL, 861.0, 3e-4))
    desk.send()
    return desk


def opened(desk, store=None):
    page = Settling(store or desk.stand_in.store)
    (row, *_) = page.rows()
    return page.open(row.key, desk.session.person, METRIC)


def test_both_versions_say_who_when_where_and_what_is_in_force(two_oils):
    shop, bench, now = opened(two_oils).groups
    assert [term.value for term in shop.terms if "Density" in term.label] == ["0.8500 g/mL"]
    assert [term.value for term in bench.terms if "Density" in term.label] == ["0.8610 g/mL"]
    assert bench.title == "bench-9 has"
    assert bench.terms[0].value == "by Selma Oberhauser"
    assert bench.terms[0].source.startswith("bench-9, 2026-03-03")
    assert now.terms[0].value == "the shop's version"


def test_a_bench_shows_what_it_knows_of_and_says_where_it_is_settled(two_oils):
    two_oils.stand_in.take(two_oils.other)
    detail = opened(two_oils, two_oils.other)
    assert {action.why_not for action in detail.actions} == {"it is settled at the shop's desk"}
    assert not any(action.enabled for action in detail.actions)
    two_oils.session.store = two_oils.other
    with pytest.raises(NotAllowedError, match="settled at the shop's desk"):
        two_oils.settle("settle_shop")


def test_the_shops_version_is_kept_and_the_list_is_empty_again(two_oils):
    assert two_oils.settle("settle_shop") == "Settled: the shop's version stays."
    assert two_oils.page.rows() == []
    assert two_oils.stand_in.store.lots()["L-9"].rho15_kg_m3 == 850
    (said,) = [e for e in two_oils.stand_in.store.entries() if isinstance(e.event, Settled)]
    assert (said.person, said.event.reason) == (demo.LEAD, "seen both")


def test_the_benchs_version_is_put_in_force(two_oils):
    two_oils.settle("settle_bench")
    assert two_oils.stand_in.store.lots()["L-9"].rho15_kg_m3 == 861


def test_both_are_kept_the_benchs_under_a_number_that_is_free(two_oils):
    with pytest.raises(NotAllowedError, match="L-9 is on record already"):
        two_oils.settle("settle_both", other="L-9")
    with pytest.raises(NotAllowedError, match="other number is missing"):
        two_oils.settle("settle_both", other=" ")
    said = two_oils.settle("settle_both", other="L-9 B")
    assert said == "Settled: both are kept, the bench's as L-9 B."
    densities = {lot: found.rho15_kg_m3 for lot, found in two_oils.stand_in.store.lots().items()}
    assert (densities["L-9"], densities["L-9 B"]) == (850, 861)


@pytest.mark.parametrize(
    ("fields", "said"),
    [({"reason": " "}, "needs a reason"), ({"signature": "000000"}, "not your PIN")],
)
def test_it_needs_a_reason_and_the_pin(two_oils, fields, said):
    with pytest.raises(NotAllowedError, match=said):
        two_oils.settle("settle_shop", **fields)
    assert len(two_oils.page.rows()) == 1


def test_a_technician_does_not_settle(two_oils):
    two_oils.bench.sign_in(demo.TECHNICIANS[0])
    with pytest.raises(NotAllowedError, match="does not do this"):
        two_oils.settle("settle_shop")
    assert not any(action.enabled for action in opened(two_oils).actions)


def test_what_is_settled_is_not_settled_twice_nor_opened(two_oils):
    (row,) = two_oils.page.rows()
    two_oils.settle("settle_shop")
    with pytest.raises(NotOnRecordError, match="it is settled"):
        two_oils.page.open(row.key, None, METRIC)
    given = {"conflict": row.key, "reason": "again", "signature": demo.PIN}
    with pytest.raises(NotAllowedError, match="settled already"):
        two_oils.session.act("settle_bench", given)


def test_a_name_that_two_people_got_becomes_two(desk):
    desk.say(desk.own, PersonEnrolled("ina", "Ina Sample", ("technician",), "x"))
    desk.say(desk.other, PersonEnrolled("ina", "Ina Sample", ("lead",), "y"))
    desk.send()
    assert desk.settle("settle_both") == "Settled: both are kept, the bench's as ina-sample."
    people = desk.stand_in.store.people()
    assert people["ina"].roles == ("technician",)
    assert people["ina-sample"].roles == ("lead",)


def test_two_revisions_of_one_number_become_two_in_a_row(desk):
    family, known = next(iter(desk.session.shop.specifications.items()))
    for store, title in ((desk.own, "one"), (desk.other, "two")):
        s = known.model_copy(update={"revision": 2, "title": title})
        desk.say(
            store, SpecificationApproved(s.id, 2, s.family, title, s.content(), s.sha256(), "")
        )
    desk.send()
    assert [action.id for action in opened(desk).actions] == ["settle_shop", "settle_both"]
    assert desk.settle("settle_both") == "Settled: both are kept, the bench's as revision 3."
    assert desk.stand_in.store.specifications()[family[0], 3].title == "two"


def test_an_order_of_the_same_name_goes_on_under_another(desk):
    for store, line in ((desk.own, "a"), (desk.other, "b")):
        desk.say(store, OrderPlaced("O-1", "", line, False, (OrderedUnit(line),)))
    desk.send()
    desk.settle("settle_both", other="O-1 B")
    assert get_order(desk.stand_in.store, "O-1 B").lines[0].line == "b"


def test_qa_settles_what_qa_said(desk):
    desk.bench.session.store = desk.bench.session.on_bench.store = desk.own
    desk.bench.run(1)
    desk.bench.work_to(None)
    unit = desk.session.rebuild.unit_id
    desk.stand_in.send(desk.own)
    desk.session.store = desk.session.on_bench.store = desk.stand_in.store
    desk.stand_in.desk(UnitDisposed(unit, "rejected", "scratch"))
    desk.say(desk.own, UnitDisposed(unit, "released", "fine"))
    desk.send()
    desk.bench.sign_in(demo.LEAD)
    (row,) = desk.page.rows()
    assert row.title == "QA's word on T-1"
    with pytest.raises(NotAllowedError, match="QA settles what QA said"):
        desk.settle("settle_bench")
    qa = next(p for p in desk.session.shop.people.values() if p.has(Role.QA))
    desk.bench.sign_in(qa.person_id)
    desk.settle("settle_bench")
    assert desk.page.rows() == []


@pytest.mark.parametrize("kind", sorted(EVENT_TYPES))
def test_every_kind_that_can_be_in_conflict_has_its_words_and_its_acts(kind):
    event = sample_of(EVENT_TYPES[kind])
    if subject_of(event) is None or kind in ("shop.line_moved", "badge.salt"):
        return
    if isinstance(event, HAPPENED):
        return
    if hasattr(event, "roles"):
        event = PersonEnrolled("p", "P", ("qa",), "")
    assert title_of(event)
    assert kind_of(event)
    assert terms_of(event, METRIC) or kind == "person.badge"
    assert all(ACTS[decision][0] in COMMANDS for decision in decisions_for(event))
