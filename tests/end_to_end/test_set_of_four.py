"""Three of a set are on record; the fourth does not match them, and the window says so."""

from datetime import UTC, datetime, timedelta

import pytest

from benchstation.clock import rehearsal_clock
from benchstation.domain.events import UnitFiled
from benchstation.domain.specification import StepKind
from tests.end_to_end.conftest import PACE, STORE, Bench, window_at
from tests.end_to_end.hands import change_person, sign_in
from tests.stepped_bench import make_bench

PLACES = ("front left", "front right", "rear left", "rear right")
ERRORS_KG = (-1.2e-3, -1.2e-3, -1.2e-3, 1.1e-3)


@pytest.fixture
def at_the_last(tmp_path):
    """An order of four, each well inside its own limits; the fourth is to be filed."""
    bench = make_bench(tmp_path, name=STORE, start=datetime.now(UTC) - timedelta(hours=4))
    bench.sign_in()
    order = {"order": "A-9", "family": "mr-46-front", "count": "4", "matched": "yes"}
    for n, place in enumerate(PLACES, 1):
        order |= {f"position{n}": place, f"serial{n}": f"Q-{n}"}
    bench.session.act("place_order", order)
    for n, error_kg in enumerate(ERRORS_KG, 1):
        if n > 1:
            bench.session.act("file", {})
            bench.session.act("next", {})
        bench.session.act("look_up", {"serial": f"Q-{n}"})
        bench.session.act("open", {**bench.session.on_bench.next_unit.fields(), "serial": f"Q-{n}"})
        assert bench.session.unit().opened.position == PLACES[n - 1]
        lot = bench.session.shop.lots[bench.session.unit().opened.oil_lot]
        bench.world.bring_in(bench.session.unit().specification, lot.rho15_kg_m3)
        bench.work_to(StepKind.FILE, serial=f"Q-{n}", oil_error_kg=error_kg)
    bench.store.close()
    return tmp_path / STORE


@pytest.fixture
def bench():
    made = Bench(rehearsal_clock(PACE))
    yield made
    made.served.close()


def test_the_fourth_of_a_set_does_not_match_and_the_lead_decides(qtbot, at_the_last, bench):
    with window_at(qtbot, at_the_last, bench) as person:
        sign_in(person)
        person.until_step("file")
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
