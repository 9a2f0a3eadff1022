"""The station's thread and the people: what they like is shown, who stirs is noticed."""

from datetime import UTC, datetime

import pytest

from benchstation.bench.assembly import bench_from
from benchstation.clock import running_clock
from benchstation.demo import shop as demo
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.materials import BOTTLE
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store

WAIT_S = 5.0


@pytest.fixture
def station(tmp_path):
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        live = bench_from(store, demo.demo_shop(store), running_clock(), lambda: demo.AIR)
        made = Station(live, Records(store))
        made.start()
        yield made
        made.close()


def act(station, action, **fields) -> str:
    return station.act(action, fields).result(WAIT_S)


def scan(station, who) -> None:
    act(station, "badge", badge=demo.BADGES[who])


def test_units_follow_the_person_and_a_key_keeps_them(station):
    scan(station, "kofler")
    act(station, "units")
    assert station.view().preferences.units == "inch-pound"
    assert station.display is UnitSystem.INCH_POUND
    assert "psi gauge" in [reading.unit for reading in station.view().strip]
    scan(station, "wieland")
    assert station.display is UnitSystem.METRIC, "as the bench has it"
    scan(station, "kofler")
    assert station.display is UnitSystem.INCH_POUND
    act(station, "prefer", preferred_units="metric")
    assert station.display is UnitSystem.METRIC
    assert "bar gauge" in [reading.unit for reading in station.view().strip]


def test_with_nobody_there_units_are_turned_and_nothing_is_written(station):
    head = station._records.store.head()
    act(station, "units")
    assert station.display is UnitSystem.INCH_POUND
    assert station._records.store.head() == head


def test_signing_out_leaves_the_units(station):
    scan(station, "kofler")
    act(station, "units")
    act(station, "sign_out")
    assert station.display is UnitSystem.INCH_POUND
    assert station.view().who == ""
    assert station.view().preferences is None


def test_stirring_is_noticed_and_costs_nothing(station):
    idle = station.live.session.signed_in.idle
    before = idle.stirred_at
    for _ in range(1000):
        station.stir()
    assert idle.stirred_at >= before
    station.hold_text(True)
    assert idle.unkept


def test_pages_are_answered_for_whoever_is_signed_in(station):
    assert [row.key for row in station.people().result(WAIT_S)][-1] == "anders"
    assert not any(a.enabled for a in station.open_person("kofler").result(WAIT_S).actions)
    scan(station, "oberhauser")
    assert "enrol" in station.open_person("kofler").result(WAIT_S).forms
    assert BOTTLE in [row.key for row in station.materials().result(WAIT_S)]
    assert station.open_store("L-0417").result(WAIT_S).fields == {"lot_open": "L-0417"}
    worked = station.work_out_bottle({"family": "mr-46-front", "volume": "10", "gauge": "150"})
    assert worked.result(WAIT_S).row.key == BOTTLE


def test_an_unknown_badge_comes_back_as_words(station):
    with pytest.raises(NotAllowedError, match="not known"):
        act(station, "badge", badge="nobody's")
