"""A latched alarm outlives the program: open again at the start, with the time nobody watched."""

from datetime import timedelta

import pytest

from benchstation.bench.locks import capture_locked
from benchstation.bench.tare_loss import recover
from benchstation.domain.events import AlarmChanged, AlarmEpisodeRecorded, AlarmResumed
from benchstation.domain.guard import AlarmKind, AlarmState
from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view
from tests.stepped_bench import START, make_bench

AWAY = timedelta(minutes=13)


def alarm(bench, kind=AlarmKind.HIGH_LIMIT):
    return next((a for a in bench.session.watch.snapshot().alarms if a.kind is kind), None)


def show(bench, gauge_pa):
    """Have the gauge show this much, whatever the gas is at."""
    bench.world.gauge.offset_pa += gauge_pa - bench.session.gauge.instrument.latest().value
    bench.run(1.5)


@pytest.fixture
def exceeded(bench):
    """A unit at its charge with the limit exceeded."""
    bench.work_to(StepKind.CHARGE)
    bench.episode = None
    show(bench, 36e5)
    bench.episode = alarm(bench).episode
    return bench


def started_again(bench, tmp_path, gauge_pa: float = 0.0):
    """End the program and start it again a while later, with the gauge at this pressure."""
    now = bench.clock.utc()
    bench.store.close()
    again = make_bench(tmp_path, start=now + AWAY, seconds=0.0)
    recover(again.session)
    again.world.gauge.offset_pa = gauge_pa
    return again


@pytest.mark.parametrize("returned", [True, False])
def test_an_open_limit_is_open_again_and_locks_capture(exceeded, tmp_path, returned):
    if returned:
        show(exceeded, 0.0)
    before = alarm(exceeded)
    wanted = AlarmState.RETURNED_UNACKNOWLEDGED if returned else AlarmState.ACTIVE_UNACKNOWLEDGED
    assert before.state is wanted
    again = started_again(exceeded, tmp_path)
    try:
        resumed = alarm(again)
        assert (resumed.episode, resumed.state) == (before.episode, wanted)
        assert resumed.peak_gauge_pa == pytest.approx(before.peak_gauge_pa, rel=1e-3)
        assert "nobody watched for 13 min" in resumed.detail
        assert capture_locked(again.session) == "high limit"
        view = bench_view(again.session, QuantityFormatter(UnitSystem.METRIC))
        assert view.rings
        assert any("HIGH LIMIT" in banner.headline for banner in view.alarms)
        again.run(0.3)
        gaps = [e.event for e in again.store.entries(kind=AlarmResumed.kind)]
        (gap,) = (event for event in gaps if event.episode == before.episode)
        assert gap.unwatched_s == pytest.approx(AWAY.total_seconds(), abs=5.0)
        assert gap.unit_id == again.session.rebuild.unit_id
    finally:
        again.store.close()


def test_the_episode_is_closed_when_it_ends(exceeded, tmp_path):
    began = exceeded.store.entries(kind=AlarmChanged.kind)
    again = started_again(exceeded, tmp_path)
    try:
        again.run(2.0)
        assert alarm(again).state is AlarmState.RETURNED_UNACKNOWLEDGED
        again.session.watch.acknowledge("kofler", "regulator crept", exceeded.episode)
        again.run(0.3)
        assert alarm(again) is None
        recorded = [e.event for e in again.store.entries(kind=AlarmEpisodeRecorded.kind)]
        (closed,) = (event for event in recorded if event.episode == exceeded.episode)
        assert (closed.acknowledged_by, closed.reason) == ("kofler", "regulator crept")
        first = next(e for e in began if e.event.episode == exceeded.episode)
        assert closed.started_utc[:19] == first.utc.isoformat()[:19]
        assert again.store.verify().ok
    finally:
        again.store.close()
    third = make_bench(tmp_path, start=START + 2 * AWAY, seconds=0.0)
    assert alarm(third) is None
    third.store.close()


def test_an_acknowledged_limit_still_exceeded_is_heard_at_once(exceeded, tmp_path):
    exceeded.session.watch.acknowledge("kofler", "closing it", exceeded.episode)
    exceeded.run(0.3)
    again = started_again(exceeded, tmp_path, 36e5)
    try:
        assert alarm(again).state is AlarmState.ACTIVE_ACKNOWLEDGED
        assert alarm(again).reason == "closing it"
        again.run(0.5)
        assert alarm(again).state is AlarmState.ACTIVE_UNACKNOWLEDGED
    finally:
        again.store.close()


def test_nothing_open_resumes_nothing(bench, tmp_path):
    bench.work_to(StepKind.CHARGE)
    again = started_again(bench, tmp_path)
    assert again.store.entries(kind=AlarmResumed.kind) == []
    assert alarm(again) is None
    again.store.close()


def test_an_episode_that_a_later_one_has_overtaken_is_not_opened_again(bench, tmp_path):
    """As programs left them that did not resume alarms."""
    stray = AlarmChanged("", "stray", "high limit", "active, unacknowledged", 1e5, 1e5, 1e5, "hose")
    bench.store.append([stray], person="station", utc=bench.clock.utc())
    bench.work_to(StepKind.CHARGE)
    show(bench, 36e5)
    later = alarm(bench).episode
    again = started_again(bench, tmp_path)
    try:
        assert alarm(again).episode == later
    finally:
        again.store.close()


def test_an_alarm_that_a_full_disk_kept_off_the_record_outlives_the_program(bench, tmp_path):
    """The limit was exceeded on a full disk, the program was ended, and the record said pass."""
    bench.work_to(StepKind.CHARGE)
    bench.disk.full = True
    show(bench, 36e5)
    episode = alarm(bench).episode
    show(bench, 0.0)
    assert not [
        e for e in bench.store.entries(kind=AlarmChanged.kind) if e.event.episode == episode
    ]
    again = started_again(bench, tmp_path)
    try:
        assert alarm(again).episode == episode
        assert again.session.rebuild.hold_reasons
        told = again.store.entries(kind=AlarmChanged.kind)
        first = next(entry for entry in told if entry.event.episode == episode)
        assert first.event.peak_gauge_pa > 35e5
        assert first.utc < again.clock.utc() - AWAY / 2
    finally:
        again.store.close()
    third = started_again(again, tmp_path)
    told = [e.event for e in third.store.entries(kind=AlarmChanged.kind)]
    assert len(told) == len(set(told)), "nothing is put on record twice"
    third.store.close()
