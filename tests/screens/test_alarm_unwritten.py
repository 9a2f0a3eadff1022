"""A journal that cannot be written hides no alarm: what is seen and heard waits for no write."""

import threading
import time
from datetime import UTC, datetime

import pytest

from benchstation.bench.assembly import bench_from
from benchstation.clock import running_clock
from benchstation.demo import shop as demo
from benchstation.domain.events import AlarmChanged, AlarmEpisodeRecorded
from benchstation.domain.guard import AlarmKind
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.reading import Reading
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from tests.store_troubles import full

UNIT = {"serial": "T-1", "specification": "mr-46-front", "lot": "L-0417"}
SOON_S, STALLED_S, UP_TO_S = 0.3, 4.0, 8.0


class Gauge:
    """Hands the gauge's readings to a station as its reader's thread would, 20 times a second."""

    def __init__(self, session) -> None:
        self.pa = 0.0
        self._session, self._stop = session, threading.Event()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    def _run(self) -> None:
        while not self._stop.wait(0.05):
            self.say()

    def say(self) -> None:
        at = self._session.clock.seconds()
        self._session.gauge.instrument.ingest(Reading("gauge", self.pa, at, "bar", b"frame"))

    def close(self) -> None:
        self._stop.set()
        self._thread.join()


@pytest.fixture
def watched(tmp_path):
    """A station with somebody signed in and a gauge that shows nothing."""
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        waking = []
        live = bench_from(
            store,
            demo.demo_shop(store),
            running_clock(),
            lambda: demo.AIR,
            on_change=lambda: [station.wake() for station in waking] and None,
        )
        station = Station(live, Records(store))
        waking.append(station)
        gauge = Gauge(live.session)
        live.session.watch.arm()
        station.start()
        station.act("sign_in", {"person": "kofler", "pin": demo.PIN}).result(5)
        until(lambda: not station.view().alarms)
        yield station, live.session, gauge
        gauge.close()
        station.close()


def until(condition, seconds: float = UP_TO_S) -> float:
    start = time.monotonic()
    while not condition():
        assert time.monotonic() - start < seconds, "it did not come"
        time.sleep(0.005)
    return time.monotonic() - start


def exceed(gauge, session) -> None:
    gauge.pa = session.watch.limits.limit_gauge_pa + 1e5


def shown(station) -> list[str]:
    return [alarm.headline[:10] for alarm in station.alarms()]


def test_a_full_disk_hides_no_alarm(watched):
    station, session, gauge = watched
    with full(session.store):
        exceed(gauge, session)
        took = until(lambda: "HIGH LIMIT" in [a.headline[:10] for a in station.view().alarms])
        assert took < SOON_S
        assert station.view().rings
        until(lambda: any("Not on record yet" in note for note in station.view().notes))
        until(lambda: "not on record yet" in station.view().alarms[0].since)
        assert session.to_write.problem == "the disk is full"
        assert not session.store.entries(kind=AlarmChanged.kind)
        raised = time.time()
        with pytest.raises(StationError, match="the disk is full"):
            station.act("open", UNIT).result(5)
        time.sleep(1.2)
    until(lambda: bool(session.store.entries(kind=AlarmChanged.kind)))
    first = session.store.entries(kind=AlarmChanged.kind)[0]
    assert first.event.alarm == AlarmKind.HIGH_LIMIT.value
    assert first.utc.timestamp() <= raised, "it is dated when it was, not when it was written"
    until(lambda: not any("Not on record" in note for note in station.view().notes))
    assert session.store.verify().ok


def test_an_acknowledgement_on_a_full_disk_is_kept_with_its_person(watched):
    station, session, gauge = watched
    with full(session.store):
        exceed(gauge, session)
        until(lambda: bool(station.view().alarms))
        alarm = station.view().alarms[0]
        assert station.acknowledge(alarm.id, "regulator crept").result(5)
        gauge.pa = 0.0
        until(lambda: not station.alarms())
    until(lambda: bool(session.store.entries(kind=AlarmEpisodeRecorded.kind)))
    limit = [
        e for e in session.store.entries(kind=AlarmChanged.kind) if e.event.episode == alarm.id
    ]
    assert [e.event.state for e in limit] == [
        "active, unacknowledged",
        "active, acknowledged",
        "normal",
    ]
    assert {e.person for e in limit} == {"kofler"}


def test_an_append_that_stalls_delays_no_alarm(watched, monkeypatch):
    station, session, gauge = watched
    heard: list[float] = []
    station.listen(lambda: heard.append(time.monotonic()))
    usual, stalled = session.store.append, threading.Event()

    def stall(*args, **more):
        stalled.set()
        time.sleep(STALLED_S)
        return usual(*args, **more)

    with monkeypatch.context() as patch:
        patch.setattr(type(session.store), "append", lambda _, *args, **more: stall(*args, **more))
        waits = station.act("open", UNIT)
        assert stalled.wait(5)
        start = time.monotonic()
        exceed(gauge, session)
        until(lambda: "HIGH LIMIT" in shown(station), SOON_S)
        view = station.view()
        assert view.alarms == station.alarms()
        assert view.rings
        assert [at for at in heard if start < at < start + SOON_S]
        until(lambda: _refused(station), 2.0)
        assert "HIGH LIMIT" in shown(station), "also where the bench does not answer"
    assert waits.exception(10) is None
    until(lambda: bool(session.store.entries(kind=AlarmChanged.kind)), 10)


def _refused(station) -> bool:
    try:
        station.view()
    except StationError:
        return True
    return False


def test_a_gauge_that_falls_silent_while_an_append_stalls_is_an_alarm(watched, monkeypatch):
    station, session, gauge = watched
    usual, stalled = session.store.append, threading.Event()

    def stall(*args, **more):
        stalled.set()
        time.sleep(STALLED_S)
        return usual(*args, **more)

    with monkeypatch.context() as patch:
        patch.setattr(type(session.store), "append", lambda _, *args, **more: stall(*args, **more))
        waits = station.act("open", UNIT)
        assert stalled.wait(5)
        gauge.close()
        took = until(lambda: "SIGNAL LOST" in [a.headline[:11] for a in station.alarms()])
        assert took < session.watch.limits.stale_after_s + 2 * SOON_S
        assert not waits.done()
    assert waits.exception(10) is None
