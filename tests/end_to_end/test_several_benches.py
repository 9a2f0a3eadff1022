"""Two benches and a desk, worked by the program's own commands, with the network cut in between."""

from dataclasses import dataclass, replace
from datetime import timedelta

import pytest

from benchstation.bench.session import BenchSession
from benchstation.demo import shop as demo
from benchstation.domain.disposition import Standing, standing_of
from benchstation.domain.events import (
    LearnedLate,
    OilLotClosed,
    PersonLeft,
    SpecificationApproved,
    UnitDisposed,
)
from benchstation.domain.materials import WITHDRAWN
from benchstation.domain.orders import LineState
from benchstation.domain.people import Role
from benchstation.domain.shop_chain import Decision, settle
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.reports.export import as_json, filed_record
from benchstation.screens.records.page import Records
from benchstation.store.engine import open_store
from benchstation.store.order_queries import get_line, get_order
from benchstation.store.queries import get_unit, record_of
from tests import shop_server
from tests.oil_hands import act, goal, pour, tare, view
from tests.shop_stand_in import ShopAtServer, ShopStandIn
from tests.stepped_bench import START, SteppedBench, make_bench

LOT = "L-0417"
SECOND = "bench-9"


@dataclass
class Shop:
    """A bench that founded the shop, a second one that joined it, and the shop."""

    stand_in: ShopStandIn
    one: SteppedBench
    two: SteppedBench

    @property
    def benches(self):
        return self.one, self.two

    def exchange(self):
        """Let the network be there for a moment, and each bench see what came."""
        for _ in range(2):
            self.stand_in.exchange(*(bench.store for bench in self.benches))
        for bench in self.benches:
            bench.run(0.3)

    def desk(self, *events):
        self.stand_in.desk(*events, person=demo.LEAD)

    def settle(self, decision, other="", order=None):
        conflict = self.stand_in.store.conflicts()[0]
        self.desk(*settle(conflict, decision, "seen both", other, order))
        self.exchange()


database = shop_server.shop
"""That of the shop's tests, beside which the shop of these stories is one with its benches."""


@pytest.fixture(params=["in a file", "at a server"])
def shop(tmp_path, request):
    one = make_bench(tmp_path, name="one.sqlite")

    def clock():
        clock.reads += 1
        now = max(bench.clock.clock.utc() for bench in (one, *clock.later))
        return now + clock.reads * timedelta(milliseconds=1)

    clock.reads, clock.later = 0, []
    if request.param == "in a file":
        stand_in = ShopStandIn(tmp_path, clock)
    else:
        stand_in = ShopAtServer(request.getfixturevalue("database"), clock)
    stand_in.send(one.store)
    with open_store(tmp_path / "two.sqlite", SECOND) as joining:
        joining.append(list(demo.instruments(START.date()).values()), person=demo.LEAD, utc=START)
        stand_in.take(joining)
    two = make_bench(tmp_path, name="two.sqlite", bench=SECOND)
    clock.later.append(two)
    made = Shop(stand_in, one, two)
    made.exchange()
    yield made
    for bench in made.benches:
        assert bench.store.verify().problem == ""
        bench.store.close()
    stand_in.close()


def ids(bench):
    return bench.session.unit().unit_id


def late_codes(bench):
    return [entry.event.what.code for entry in bench.store.entries(kind=LearnedLate.kind)]


def place_order(bench, name="O-1"):
    bench.sign_in(demo.LEAD)
    act(bench, "place_order", order=name, due="", note="", family="mr-46-front", count="1")
    return get_order(bench.store, name).lines[0].line


def held(bench, unit_id):
    unit = get_unit(bench.store, unit_id)
    return standing_of(qa_hold=unit.qa_hold, words=(unit.disposition,)) is Standing.ON_HOLD


def test_a_bench_that_joined_works_with_the_people_oils_and_families_of_the_shop(shop):
    for what in ("people", "lots", "specifications"):
        assert getattr(shop.two.session.shop, what) == getattr(shop.one.session.shop, what)
    shop.two.work_to(None)
    assert record_of(shop.two.store, shop.two.session.rebuild.unit_id).serial == "T-1"


def test_two_benches_fetch_one_line_while_the_network_is_down(shop):
    line = place_order(shop.one)
    shop.exchange()
    units = []
    for bench in shop.benches:
        bench.work_to(StepKind.FILE, order="O-1", serial=f"S-{bench.store.bench}")
        units.append(ids(bench))
        assert get_line(bench.store, line).unit_id == units[-1], "nothing is forbidden offline"
    shop.exchange()
    assert [get_line(b.store, line).unit_id for b in shop.benches] == [units[0]] * 2
    assert late_codes(shop.two) == [Code.LINE_TAKEN_TWICE]
    shop.two.work_to(None, order="O-1", serial=f"S-{SECOND}")
    reasons = record_of(shop.two.store, units[1]).qa_hold_reasons
    assert [r.code for r in reasons] == [Code.LINE_TAKEN_TWICE]

    shop.exchange()
    shop.settle(Decision.BENCH)
    for store in (*(bench.store for bench in shop.benches), shop.stand_in.store):
        found = get_line(store, line)
        assert (found.unit_id, found.state) == (units[1], LineState.HELD)


def test_a_specification_is_revised_while_a_bench_is_offline(shop):
    family = "mr-46-front"
    newest = shop.one.session.shop.specifications[family, 1]
    revised = newest.model_copy(update={"revision": 2})
    shop.desk(
        SpecificationApproved(
            family, 2, newest.family, newest.title, revised.content(), revised.sha256(), ""
        )
    )
    shop.two.run(1)
    shop.two.work_to(StepKind.WEIGH)
    open_unit = ids(shop.two)
    shop.exchange()
    assert "mr-46-front, revision 2, is in force" in shop.two.session.message.text
    assert shop.two.session.unit().specification.revision == 1, "the unit is not disturbed"
    shop.two.work_to(None)
    record = record_of(shop.two.store, open_unit)
    assert record.specification.revision == 1
    assert [r.code for r in record.qa_hold_reasons] == [Code.OLDER_REVISION]
    assert held(shop.two, open_unit)
    act(shop.two, "next")
    shop.two.work_to(StepKind.WEIGH, serial="T-2")
    assert shop.two.session.unit().specification.revision == 2


def test_a_person_is_locked_while_a_unit_is_on_the_bench(shop):
    who = demo.TECHNICIANS[0]
    shop.two.work_to(StepKind.WEIGH)
    unit = ids(shop.two)
    shop.desk(PersonLeft(who, "left the shop"))
    shop.two.run(2)
    tare(shop.two, "body")
    shop.exchange()
    assert "has left and signs no longer" in shop.two.session.message.text
    assert shop.two.session.person is None
    with pytest.raises(NotAllowedError):
        shop.two.sign_in(who)
    (late,) = [entry.event for entry in shop.two.store.entries(kind=LearnedLate.kind)]
    assert (late.unit_id, late.what.code) == (unit, Code.SIGNED_WHILE_LOCKED)


def test_a_unit_that_was_filed_by_a_locked_person_is_held(shop):
    who = demo.TECHNICIANS[0]
    shop.desk(PersonLeft(who, "left the shop"))
    shop.two.run(2)
    shop.two.work_to(None)
    unit = shop.two.session.rebuild.unit_id
    assert not held(shop.two, unit)
    shop.exchange()
    assert late_codes(shop.two) == [Code.SIGNED_WHILE_LOCKED]
    assert held(shop.two, unit)
    said = filed_record(shop.two.store, unit).disposition
    assert said.standing is Standing.ON_HOLD
    assert "signed here after the shop" in said.rulings[-1].reason


def test_a_lot_is_withdrawn_while_a_bench_pours_from_it(shop):
    shop.two.work_to(StepKind.WEIGH)
    tare(shop.two, "body")
    pour(shop.two, 0.100)
    lot = shop.two.session.unit().oil_lot
    shop.desk(OilLotClosed(lot, WITHDRAWN, "water in it"))
    shop.exchange()
    assert f"Lot {lot} is withdrawn: water in it" in shop.two.session.message.text
    pour(shop.two, goal(shop.two) - 0.100 - 0.0003)
    with pytest.raises(NotAllowedError, match=f"lot {lot} is withdrawn: water in it"):
        act(shop.two, "capture")


def test_a_unit_filed_before_its_lot_was_known_to_be_withdrawn_is_held(shop):
    shop.two.work_to(StepKind.FILE)
    unit = ids(shop.two)
    shop.desk(OilLotClosed(shop.two.session.unit().oil_lot, WITHDRAWN, "water in it"))
    shop.two.run(2)
    shop.two.work_to(None)
    assert not held(shop.two, unit)
    shop.exchange()
    assert late_codes(shop.two) == [Code.LOT_WITHDRAWN]
    assert held(shop.two, unit)


def receive(bench, density, lot="L-900"):
    bench.sign_in(demo.LEAD)
    act(
        bench,
        "receive_certificate",
        lot=lot,
        oil="ISO VG 15 damper oil",
        source="certificate",
        supplier="Oil works",
        density=f"{density} kg/m3",
        u="0.3 kg/m3",
    )


def test_two_benches_receive_one_lot_number_with_two_densities(shop):
    receive(shop.one, 850)
    receive(shop.two, 861)
    shop.two.work_to(StepKind.WEIGH, lot="L-900")
    before = goal(shop.two)
    shop.exchange()
    assert (
        "Lot L-900 is another oil in the shop: see To settle (Shift+F4)"
        in shop.two.session.message.text
    )
    assert shop.two.session.shop.lots["L-900"].rho15_kg_m3 == 861, "this unit keeps its own"
    assert goal(shop.two) == pytest.approx(before, rel=1e-4)
    assert "settle it first" in shop.two.session.shop.why_closed("L-900", shop.two.session.today)
    assert shop.one.session.shop.why_closed("L-900", shop.one.session.today) == ""
    shop.settle(Decision.BOTH, "L-900 B")
    for bench in shop.benches:
        assert bench.session.shop.lots["L-900 B"].rho15_kg_m3 == 861
        assert bench.session.shop.why_closed("L-900", bench.session.today) == ""


def test_the_bench_begins_again_with_what_the_unit_on_it_knew(shop, tmp_path):
    receive(shop.one, 850)
    receive(shop.two, 861)
    shop.two.work_to(StepKind.WEIGH, lot="L-900")
    shop.exchange()
    shop.two.store.close()
    again = make_bench(tmp_path, name="two.sqlite", bench=SECOND, goes_on=shop.two)
    shop.two = again
    again.session.on_bench.take(again.session.on_bench.folded(again.store.open_unit()))
    assert again.session.shop.lots["L-900"].rho15_kg_m3 == 861
    again.session.on_bench.take(None)
    assert again.session.shop.lots["L-900"].rho15_kg_m3 == 850


def test_qa_at_the_bench_and_at_the_desk_do_not_agree(shop):
    shop.two.work_to(None)
    unit = shop.two.session.rebuild.unit_id
    shop.exchange()
    shop.desk(UnitDisposed(unit, "rejected", "scratch in the tube"))
    qa = next(p for p in shop.two.session.shop.people.values() if p.has(Role.QA))
    shop.two.sign_in(qa.person_id)
    act(
        shop.two,
        "dispose",
        unit=unit,
        disposition="released",
        reason="looks well",
        signature=demo.PIN,
    )
    assert filed_record(shop.two.store, unit).disposition.standing is Standing.RELEASED
    shop.exchange()
    assert all_say(shop, unit) == {Standing.REJECTED}
    shop.settle(Decision.BENCH)
    assert all_say(shop, unit) == {Standing.RELEASED}


def all_say(shop, unit):
    """Return what certificate, label and JSON, list and search say, at the bench and the desk."""
    found, desk = set(), shop.stand_in
    for store in (shop.two.store, *([desk.store] if isinstance(desk, ShopAtServer) else [])):
        filed, row = filed_record(store, unit), get_unit(store, unit)
        listed = standing_of(qa_hold=row.qa_hold, words=(row.disposition,))
        (shown,) = Records(store).find("T-1")
        stopped = shown.decision in set(Standing)
        in_list = Standing(shown.decision if stopped else shown.state)
        found |= {filed.disposition.standing, listed, in_list}
        found.add(Standing(as_json(filed)["standing"]["now"]))
    return found


def test_who_is_signed_in_is_so_with_the_rights_of_the_shop(shop):
    assert isinstance(shop.two.session, BenchSession)
    lead = shop.two.session.shop.people[demo.LEAD]
    shop.two.sign_in(demo.LEAD)
    shop.desk(replace_roles(shop, demo.LEAD, ("technician",)))
    shop.exchange()
    assert shop.two.session.person.roles == {Role.TECHNICIAN}
    assert replace(lead, roles=frozenset({Role.TECHNICIAN})) == shop.two.session.person


def replace_roles(shop, who, roles):
    known = shop.one.store.people()[who]
    return replace(known, roles=roles)


def test_a_certificate_that_was_put_on_record_elsewhere_waits_for_the_weighing_that_was_begun(shop):
    known = shop.two.session.scale.registered
    shop.two.work_to(StepKind.WEIGH)
    tare(shop.two, "body")
    certified = replace(known, instrument_id="any", offset=0.0003, certificate="C-2026-77")
    shop.desk(certified)
    shop.exchange()
    assert shop.two.session.scale.registered == known, "a weighing stands on it"
    pour(shop.two, goal(shop.two) - 0.0003)
    act(shop.two, "capture")
    shop.two.until(lambda: len(shop.two.session.unit().captures) == 1)
    shop.two.work_to(StepKind.CHARGE)
    fitted = shop.two.session.scale.registered
    assert (fitted.instrument_id, fitted.certificate) == (known.instrument_id, "C-2026-77")
    kinds = [e.kind for e in shop.two.store.entries(unit_id=ids(shop.two))]
    assert "unit.calibration_changed" in kinds


def test_a_badge_that_two_benches_gave_to_two_people_signs_nobody_in(shop):
    text = "badge-of-two"
    for bench, who in zip(shop.benches, demo.TECHNICIANS, strict=False):
        bench.sign_in(who)
        fields = {"badge": text, "badge_again": text, "signature": demo.PIN}
        act(bench, "register_badge", **fields)
    shop.exchange()
    act(shop.two, "sign_out")
    with pytest.raises(NotAllowedError, match=r"registered for .* and .*"):
        act(shop.two, "badge", badge=text)
    shop.two.sign_in(demo.TECHNICIANS[1])
    with pytest.raises(NotAllowedError, match="badge"):
        act(shop.two, "badge", badge=text, **{"or": "the text's"})
    act(shop.two, "drop_badge", signature=demo.PIN)
    shop.exchange()
    act(shop.one, "sign_out")
    assert "is signed in" in act(shop.one, "badge", badge=text)


def test_a_set_over_two_benches_is_not_filed_as_if_it_had_been_compared(shop):
    shop.one.sign_in(demo.LEAD)
    units = {"serial1": "S-1", "serial2": "S-2", "position1": "left", "position2": "right"}
    act(shop.one, "place_order", order="O-1", due="", note="", family="mr-46-front", count="2",
        matched="yes", **units)  # fmt: skip
    shop.exchange()
    shop.one.work_to(None, order="O-1", serial="S-1")
    shop.exchange()
    bench = shop.two
    bench.work_to(StepKind.FILE, order="O-1", serial="S-2")
    assert bench.session.work.matched.not_compared == ("S-1",)
    file = next(one for one in view(bench).task.actions if one.id == "file")
    assert "not compared with all of its set" in file.why_not
    assert "S-1 was filed at another bench" in view(bench).task.lines[0][0]
    with pytest.raises(NotAllowedError, match="S-1 was filed at another bench"):
        act(bench, "file")
    bench.sign_in(demo.LEAD)
    act(bench, "deviation", reason="compared by hand at the desk", **demo.SIGNED)
    act(bench, "file")
    record = record_of(bench.store, bench.session.rebuild.unit_id)
    assert record.qa_hold
    assert [m.state for m in record.set.members] == ["filed at another bench", "this unit"]
