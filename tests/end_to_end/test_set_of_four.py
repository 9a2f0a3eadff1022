"""Three of a set are on record; the fourth is built at the window and does not match them."""

from datetime import UTC, datetime, timedelta

import pytest

from benchstation.clock import running_clock
from benchstation.domain.events import UnitFiled
from benchstation.domain.specification import StepKind
from tests.end_to_end.conftest import PACE, STORE, Bench, window_at
from tests.end_to_end.hands import ROUTE, bleed, change_person, oil, sign_in, to_weighing
from tests.stepped_bench import make_bench

PLACES = ("front left", "front right", "rear left", "rear right")
SHORT_KG, LEFT_KG = 1.2e-3, 1.1e-3


@pytest.fixture
def three_filed(tmp_path):
    """An order of four, three of which got 1.2 g too little: each well inside its own limits."""
    bench = make_bench(tmp_path, name=STORE, start=datetime.now(UTC) - timedelta(hours=4))
    bench.sign_in()
    order = {"order": "A-9", "family": "mr-46-front", "count": "4", "matched": "yes"}
    for n, place in enumerate(PLACES, 1):
        order |= {f"position{n}": place, f"serial{n}": f"Q-{n}"}
    bench.session.act("place_order", order)
    for n in range(1, 4):
        bench.session.act("look_up", {"serial": f"Q-{n}"})
        bench.session.act("open", {**bench.session.on_bench.next_unit.fields(), "serial": f"Q-{n}"})
        lot = bench.session.shop.lots[bench.session.unit().opened.oil_lot]
        bench.world.bring_in(bench.session.unit().specification, lot.rho15_kg_m3)
        bench.work_to(StepKind.FILE, serial=f"Q-{n}", oil_error_kg=SHORT_KG)
        bench.session.act("file", {})
        bench.session.act("next", {})
    bench.store.close()
    return tmp_path / STORE


@pytest.fixture
def bench():
    made = Bench(running_clock(PACE))
    yield made
    made.served.close()


@pytest.mark.timeout(180)
def test_the_fourth_of_a_set_does_not_match_and_the_lead_decides(qtbot, three_filed, bench):
    with window_at(qtbot, three_filed, bench) as person:
        sign_in(person)
        window = person.window
        person.key("F3")
        queue = window.made["queue"]
        person.until(lambda: queue.view is not None and len(queue.list.rows.rows) == 4)
        assert queue.list.rows.rows[queue.list.currentIndex().row()].serial == "Q-4"
        person.key("Return")
        person.until_step("intake")
        assert person.session.unit().opened.position == "rear right"
        to_weighing(person)
        oil(person)
        bleed(person, left_kg=LEFT_KG)
        for step in ("screw", "charge", "seal", "function", "push"):
            ROUTE[step](person)
        person.until(lambda: person.task.lines[0][0].startswith("net oil: units differ by"))
        person.key("Return")
        person.until(lambda: "does not match" in person.refused)
        assert not person.session.store.entries(kind=UnitFiled.kind)[3:]
        change_person(person, "oberhauser")
        person.click("deviation")
        person.give_reason("the customer wants them today")
        person.until(lambda: person.can("file"))
        person.key("Return")
        person.until_step("filed")
        filed = person.session.store.entries(kind=UnitFiled.kind)[3].event
        assert filed.qa_hold
        assert [m["serial"] for m in filed.record["set"]["members"]] == ["Q-1", "Q-2", "Q-3", "Q-4"]
        spread = filed.record["set"]["spreads"][0]
        assert (spread["what"], spread["decision"]) == ("net oil", "fail")
        assert filed.record["oil"]["decision"] == "pass", "by itself it is in order"
