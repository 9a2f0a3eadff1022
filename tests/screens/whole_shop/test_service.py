"""The window of a whole shop, on a real database: QA works where nothing is measured."""

import os
import signal
from pathlib import Path

import pytest

from benchstation.bench.without_instruments import QuietLoop, session_without_instruments
from benchstation.clock import running_clock
from benchstation.config.settings import Settings
from benchstation.domain.events import (
    OilLotReceived,
    PersonEnrolled,
    PersonSignedIn,
    RebuildAbandoned,
    RebuildOpened,
    UnitDisposed,
    UnitFiled,
)
from benchstation.domain.people import hash_pin
from benchstation.driver_api.errors import StationError
from benchstation.screens.whole_shop.service import ShopStation
from benchstation.store.bench_key import bench_key
from benchstation.store.engine import open_store
from benchstation.store.known_heads import KnownHeads
from benchstation.store.shop.exchange import Exchange
from benchstation.store.shop.shop_store import open_shop
from benchstation.store.trust import Trust
from tests.shop_server import WHEN
from tests.waiting import eventually

PIN = "471147"


@pytest.fixture
def bench(tmp_path, shop):
    """A bench with a filed and an open unit, all of it sent."""
    with open_store(tmp_path / "b.sqlite", "bay-1") as store:
        for n, unit in enumerate(("u1", "u2")):
            opened = RebuildOpened(unit, f"MR-{n}", "MR 46", "mr-46", 1, "L-1", "A-7", "left")
            store.append([opened], person="tom", utc=WHEN)
            if unit == "u1":
                store.append([UnitFiled(unit, "MR-0", "pass", False, {})], person="tom", utc=WHEN)
        shop.take(store)
        yield store


@pytest.fixture
def store(tmp_path, shop, bench):
    trust = Trust(bench_key(tmp_path), KnownHeads(tmp_path), tmp_path)
    with open_shop(shop.login_address("shop_desk"), trust) as opened:
        people = [
            PersonEnrolled("quin", "Quin", ("qa",), hash_pin(PIN)),
            PersonEnrolled("lea", "Lea", ("lead",), hash_pin(PIN)),
        ]
        opened.append(people, person="set-up", utc=WHEN)
        opened.catch_up()
        yield opened


@pytest.fixture
def station(store):
    session = session_without_instruments(store, "Aller", running_clock(), Settings())
    made = ShopStation(QuietLoop(session), store, hint="a hint")
    made.look()
    made.start()
    yield made
    made.close()


def do(station, action, **fields):
    return station.act(action, fields).result(20)


def test_nobody_is_signed_in_at_first_and_each_chain_is_shown(station):
    view = station.view()
    assert view.who == ""
    assert view.task.title == "Sign in"
    assert view.task.fields[1].hint == "a hint"
    eventually(lambda: station.view().why[0].terms, 5.0, lambda: "no chain is shown")
    (group,) = station.view().why
    assert (group.heading, group.title) == ("The shop", "Chains")
    assert [(t.label, t.value) for t in group.terms] == [
        ("the shop", "2 entries"),
        ("bay-1", "3 entries"),
    ]
    assert view.strip == view.alarms == station.alarms() == ()
    assert "Nothing is measured here" in view.notes[0]


def test_qa_holds_a_unit_under_a_signature_in_the_shops_own_chain(station, store):
    do(station, "sign_in", person="quin", pin=PIN)
    with pytest.raises(StationError, match="not your PIN"):
        do(station, "dispose", unit="u1", disposition="held", reason="x", signature="0")
    do(station, "dispose", unit="u1", disposition="held", reason="as found", signature=PIN)
    eventually(
        lambda: {e.kind for e in store.entries() if e.bench == "shop"} >= {PersonSignedIn.kind},
        5.0,
        lambda: "the sign-in is not on record",
    )
    (said,) = store.entries(kind=UnitDisposed.kind)
    assert (said.bench, said.person, said.event.reason) == ("shop", "quin", "as found")
    row = station.find_records("MR-0").result(20)[0]
    assert (row.decision, row.technician) == ("on hold", "bay-1, tom")
    with pytest.raises(StationError, match="only a filed unit"):
        do(station, "dispose", unit="u2", disposition="held", reason="x", signature=PIN)


def test_what_belongs_to_a_bench_is_barred_here(station):
    do(station, "sign_in", person="lea", pin=PIN)
    assert station.view().barred["open"] == "done at a bench"
    assert "draft" not in station.view().barred
    for action in ("open", "tare", "capture", "calibrate", "file", "change_settings"):
        with pytest.raises(StationError, match="no action"):
            do(station, action)


def test_the_queue_shows_what_stands_at_every_bench(station):
    view = station.find_queue().result(20)
    assert [(row.serial, row.reason) for row in view.rows] == [("MR-1", "bay-1")]


def test_what_a_bench_sends_while_the_window_is_open_comes_by_itself(station, store, shop, bench):
    bench.append([RebuildAbandoned("u2", "bent")], person="tom", utc=WHEN)
    shop.take(bench)
    lot = OilLotReceived("L-9", "oil", 860.0, 5e-4)
    with open_shop(shop.login_address("shop_desk")) as other:
        other.append([lot], person="lea", utc=WHEN)
    station.look()
    shop_of = station.live.session.shop
    eventually(lambda: "L-9" in shop_of.lots, 5.0, lambda: "the lot did not come")
    assert station.find_records("MR-1").result(20)[0].state == "abandoned"
    eventually(
        lambda: station.view().why[0].terms[1].value == "4 entries",
        5.0,
        lambda: "the chain is shown as before",
    )


def test_a_server_that_is_away_is_said_and_ends_nothing(station, shop_server):
    shop_server.stop(at_once=True)
    try:
        station.look()
        assert "does not answer" in station.standing.problem
        with pytest.raises(StationError, match="does not answer"):
            station.find_records("MR").result(20)
    finally:
        shop_server.start()
    station.look()
    assert station.standing.problem == ""
    assert station.find_records("MR-0").result(20)


def test_all_chains_are_verified_from_the_window(station):
    assert station.verify_journal().result(30).startswith("Sound: 5 entries")


def test_a_conflict_of_two_benches_is_settled_here(station, store, shop, tmp_path):
    for name, density in (("bay-2", 850.0), ("bay-3", 870.0)):
        with open_store(tmp_path / f"{name}.sqlite", name) as bench:
            lot = OilLotReceived("L-5", "oil", density, 5e-4)
            bench.append([lot], person="lea", utc=WHEN)
            exchange = Exchange(bench, shop.bench_address(name))
            exchange.step(WHEN)
            exchange.close()
    station.look()
    do(station, "sign_in", person="lea", pin=PIN)
    eventually(
        lambda: "(Shift+F4): 1 now" in station.view().task.instruction,
        5.0,
        lambda: "it is not shown",
    )
    (row,) = station.settling().result(20)
    assert store.lots()["L-5"].rho15_kg_m3 == 850.0
    do(station, "settle_bench", conflict=row.key, reason="weighed again", signature=PIN)
    assert store.lots()["L-5"].rho15_kg_m3 == 870.0
    assert station.settling().result(20) == []
    assert store.conflicts() == []


def test_a_server_that_hangs_holds_up_no_page(station, shop_server):
    """What is written waits for it; the page stands, and says nothing of gauges or valves."""
    do(station, "sign_in", person="quin", pin=PIN)
    server = shop_server._server
    server.send_signal(signal.SIGSTOP)
    # The server's own processes for each login hang with it.
    children = [int(pid) for pid in _children_of(server.pid)]
    for pid in children:
        os.kill(pid, signal.SIGSTOP)
    try:
        held = station.act(
            "dispose", {"unit": "u1", "disposition": "held", "reason": "x", "signature": PIN}
        )
        with pytest.raises(TimeoutError):
            held.result(1.3)
        assert station.view().who == "quin"
    finally:
        for pid in (server.pid, *children):
            os.kill(pid, signal.SIGCONT)
    held.result(20)


def _children_of(pid):
    return Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
