"""The station's thread: actions in order, failures in words, views that follow, a clean end."""

import threading
from datetime import UTC, date, datetime

import pytest

from benchstation.bench.assembly import bench_from
from benchstation.clock import Clock, running_clock
from benchstation.demo import shop as demo
from benchstation.demo.hand import VirtualHand
from benchstation.demo.materials import WEIGHT
from benchstation.demo.world import make_world, serve_world
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.reading import Reading
from benchstation.link.statistics import LinkState
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.bench import BenchView
from benchstation.screens.model.elements import StepState
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from benchstation.store.verification import Verification
from tests.waiting import eventually, stays

WAIT_S = 5.0


@pytest.fixture
def running(tmp_path):
    """A whole station on virtual devices behind real ports, 20 times as fast as the wall."""
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        clock: Clock = running_clock(20.0)
        world = make_world(5, demo.AIR)
        served = serve_world(world, clock.seconds)
        live = bench_from(store, demo.demo_shop(store), clock, lambda: demo.AIR)
        hand = VirtualHand(world)
        live.followers.append(hand.follow)
        station = Station(live, Records(store), hint="hint", note="note")
        session = live.session
        session.scale.instrument.connect(served.scale.url)
        session.gauge.instrument.connect(served.gauge.url)
        session.watch.arm()
        station.start()
        yield station, hand, served
        station.close()
        session.scale.instrument.stop()
        session.gauge.instrument.stop()
        served.close()


def sign_in(station) -> None:
    station.act("sign_in", {"person": "kofler", "pin": demo.PIN}).result(WAIT_S)


def test_the_view_shows_an_action_when_its_result_comes(running):
    station, _, _ = running
    assert station.view().task.step_id == "sign-in"
    assert "Mira Kofler" in station.act("sign_in", {"person": "kofler", "pin": demo.PIN}).result(
        WAIT_S
    )
    assert station.view().person == "Mira Kofler"
    assert station.view().task.step_id == "open"


def test_a_refusal_comes_back_as_words(running):
    station, _, _ = running
    with pytest.raises(NotAllowedError, match="nobody is signed in"):
        station.act("open", {}).result(WAIT_S)
    with pytest.raises(StationError):
        station.acknowledge("no-such-episode", "why").result(WAIT_S)


def test_actions_keep_their_order(running):
    station, _, _ = running
    sign_in(station)
    opened = station.act("open", {"serial": "T-1", "specification": "mr-46-front", "lot": "L-0417"})
    signed = station.act("sign", {"confirm1": "yes", "note1": "weeping"})
    assert "is open" in opened.result(WAIT_S)
    assert "signed" in signed.result(WAIT_S)
    states = [step.state for step in station.view().steps]
    assert states[:2] == [StepState.DONE, StepState.NOW]


def test_units_are_switched_and_stored_values_are_not(running):
    station, _, _ = running
    sign_in(station)
    eventually(lambda: station.view().strip[0].number not in ("", "—"))
    assert station.view().strip[1].unit == "bar gauge"
    station.act("units", {}).result(WAIT_S)
    assert station.display is UnitSystem.INCH_POUND
    assert station.view().strip[1].unit == "psi gauge"


def test_a_unit_opened_at_the_bench_stands_on_the_virtual_bench(running):
    station, hand, _ = running
    sign_in(station)
    station.act("open", {"serial": "T-1", "specification": "sledge-36", "lot": "L-0440"}).result(5)
    eventually(lambda: hand.world.model.gas_gauge_pa > 8e5)


def test_a_pulled_plug_shows_at_once_and_comes_back_by_itself(running):
    station, _, served = running
    eventually(lambda: not station.view().strip[1].stale)
    heard = threading.Event()
    station.listen(heard.set)
    served.gauge.unplug()
    eventually(lambda: station.view().strip[1].stale, 2.0)
    eventually(lambda: bool(station.view().alarms), 2.0)
    served.gauge.replug()
    eventually(lambda: not station.view().strip[1].stale, 2.5)
    assert station.instruments()[1].link == LinkState.LIVE.value


def test_the_instruments_page_shows_raw_frames_and_checks(running):
    station, hand, _ = running
    sign_in(station)
    eventually(lambda: any("bar" in line for line in station.instruments()[1].raw_lines))
    eventually(lambda: "steady" in station.view().strip[0].words)
    station.act("prove_empty", {"instrument": "scale-1"}).result(WAIT_S)
    hand.put_on_pan("check weight")
    eventually(lambda: "200.0" in station.view().strip[0].number)
    eventually(lambda: "steady" in station.view().strip[0].words)
    said = station.act("check", {"instrument": "scale-1", "weight": WEIGHT}).result(WAIT_S)
    assert "passed" in said
    hand.world.scale.gain = 1.05
    eventually(lambda: "210.0" in station.view().strip[0].number)
    eventually(lambda: "steady" in station.view().strip[0].words)
    said = station.act("check", {"instrument": "scale-1", "weight": WEIGHT}).result(WAIT_S)
    assert "FAILED" in said
    assert "failed its last check" in " ".join(station.view().strip[0].words)


def test_what_goes_wrong_elsewhere_is_said(running):
    station, _, _ = running
    station.report("A fault in this program.")
    eventually(lambda: station.view().said == "A fault in this program.")


def test_a_specification_is_drafted_and_approved_through_the_port(running):
    station, _, _ = running
    (row,) = [r for r in station.find_specifications().result(WAIT_S) if "front" in r.key]
    shown = station.open_specification(row.key, 0.5, "hot").result(WAIT_S)
    source = shown.source.replace("revision = 1", "revision = 2")
    assert station.check_specification(source, 0.0, "cold").result(WAIT_S).problems == ()
    station.act("sign_in", {"person": "oberhauser", "pin": demo.PIN}).result(WAIT_S)
    station.act("draft", {"source": source}).result(WAIT_S)
    station.act("sign_in", {"person": "anders", "pin": demo.PIN}).result(WAIT_S)
    said = station.act("approve", {**demo.SIGNED, "key": "draft:mr-46-front/2"}).result(WAIT_S)
    assert "in force" in said
    rows = station.find_specifications().result(WAIT_S)
    assert {r.key: r.state for r in rows}["approved:mr-46-front/2"] == "in force"


def test_the_journal_is_verified_beside_the_work(running):
    station, _, _ = running
    assert station.journal_check().words == ""
    found = station.verify_journal().result(WAIT_S)
    count = len(demo.founding_events(date(2026, 3, 3)))
    assert found.startswith(f"Sound: {count} entries")
    assert station.journal_check().words == found
    assert station.find_records("").result(WAIT_S) == []


def test_records_are_found_while_the_journal_is_verified(running, monkeypatch):
    station, _, _ = running
    store, begun, go_on = station.live.session.store, threading.Event(), threading.Event()
    verify = store.verify

    def slow(progress, cancelled):
        progress(1, 4)
        begun.set()
        assert go_on.wait(WAIT_S)
        return verify(progress, cancelled)

    monkeypatch.setattr(store, "verify", slow)
    checked = station.verify_journal()
    assert begun.wait(WAIT_S)
    assert station.find_records("").result(WAIT_S) == []
    assert station.journal_check().share == 0.25
    go_on.set()
    assert checked.result(WAIT_S).startswith("Sound")


def test_closing_the_station_stops_the_check(running, monkeypatch):
    station, _, _ = running

    def endless(progress, cancelled):
        while not cancelled():
            progress(1, 4)
        return Verification(False, 1, "00", "stopped before the end.", stopped=True)

    monkeypatch.setattr(station.live.session.store, "verify", endless)
    checked = station.verify_journal()
    station.close()
    assert checked.cancelled() or "was stopped" in checked.result(WAIT_S)


def test_a_store_that_cannot_be_written_is_said_and_nothing_is_shown_as_done(running, monkeypatch):
    station, _, _ = running
    sign_in(station)
    store = station.live.session.store

    def full(*_: object, **__: object):
        raise StationError("the disk is full; nothing of this was kept.", advice="Free some.")

    monkeypatch.setattr(store, "append", full)
    with pytest.raises(StationError, match="disk is full"):
        station.act(
            "open", {"serial": "T-1", "specification": "mr-46-front", "lot": "L-0417"}
        ).result(WAIT_S)
    assert station.view().unit_title == "No unit on the bench"
    monkeypatch.undo()
    station.act("open", {"serial": "T-1", "specification": "mr-46-front", "lot": "L-0417"}).result(
        5
    )
    assert station.view().unit_title == "T-1"


def test_a_bench_that_fails_outlives_whoever_asks_it_for_the_moment(running, monkeypatch):
    """As on a full disk: each tick fails, and the alarm's listener asks for a view too old."""
    station, _, _ = running
    refused: list[str] = []

    def hear() -> None:
        try:
            station.view()
        except StationError as error:
            refused.append(str(error))
            raise

    def fail() -> None:
        raise StationError("the disk is full.")

    station.listen(hear)
    with monkeypatch.context() as patch:
        patch.setattr(type(station.live), "take", lambda live: fail())

        def heard() -> bool:
            station.wake()
            return bool(refused)

        eventually(heard)
    eventually(lambda: not isinstance(_view_or_error(station), StationError))
    sign_in(station)
    assert station.view().person == "Mira Kofler"


def _view_or_error(station):
    try:
        return station.view()
    except StationError as error:
        return error


def test_who_listens_is_told_when_a_mute_has_ended_by_itself(running):
    station, _, served = running
    sign_in(station)
    served.gauge.unplug()
    eventually(lambda: station.view().rings)
    station.act("mute", {}).result(WAIT_S)
    assert not station.view().rings
    told: list[bool] = []
    station.listen(lambda: told.append(station.view().rings))
    session = station.live.session

    def soon() -> str:
        session.outputs.mute.until = session.clock.seconds() + 5.0
        return ""

    station.ask(soon).result(WAIT_S)
    eventually(lambda: True in told)


# --- what it costs when nothing happens ----------------------------------------------------------


@pytest.fixture
def quiet(tmp_path):
    """A station on the wall's clock whose instruments say only what the test hands in."""
    with open_store(tmp_path / "q.sqlite", demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        live = bench_from(store, demo.demo_shop(store), running_clock(), lambda: demo.AIR)
        station = Station(live, Records(store))
        station.start()
        yield station, live.session
        station.close()


def moments(station, seconds: float) -> list[BenchView]:
    """Return the moments that a window would have seen, each once."""
    seen: list[BenchView] = []

    def look() -> bool:
        view = station.view()
        if not seen or view is not seen[-1]:
            seen.append(view)
        return True

    stays(look, seconds)
    return seen


def reading(session, value: float) -> Reading:
    return Reading("mass", value, session.clock.seconds(), "g", b"raw", resolution=0.0001)


def test_where_nothing_changes_there_is_no_other_moment(quiet):
    station, _ = quiet
    sign_in(station)
    # The clock's minute may change on the way.
    assert len(moments(station, 0.6)) <= 2


def test_a_reading_is_seen_soon_and_changes_nothing_else(quiet):
    station, session = quiet
    sign_in(station)
    before = station.view()
    session.scale.instrument.ingest(reading(session, 0.1234))
    eventually(lambda: station.view().strip[0].number == "123.4", 0.5)
    after = station.view()
    assert after.strip is not before.strip
    assert all(
        getattr(after, name) is getattr(before, name)
        for name in ("task", "steps", "why", "side_actions", "alarms", "notes")
    )


def test_an_age_that_ticks_changes_the_strip_alone(quiet):
    station, session = quiet
    sign_in(station)
    session.scale.instrument.ingest(reading(session, 0.1234))
    eventually(lambda: station.view().strip[0].age)
    seen = moments(station, 0.5)
    assert len({view.strip[0].age for view in seen}) >= 3
    assert all(view.task is seen[0].task and view.strip[1] == seen[0].strip[1] for view in seen)


def test_a_flood_of_readings_makes_at_most_sixty_moments_a_second(quiet):
    station, session = quiet
    stop = threading.Event()

    def flood() -> None:
        count = 0
        while not stop.wait(0.001):
            count += 1
            session.scale.instrument.ingest(reading(session, count / 1e4))

    thread = threading.Thread(target=flood)
    thread.start()
    try:
        seen = moments(station, 1.0)
    finally:
        stop.set()
        thread.join()
    assert 5 <= len(seen) <= 62
