"""The guard at the bench: every episode in the journal with its trace, capture locked, QA hold."""

import pytest

from benchstation.bench.locks import capture_locked
from benchstation.domain.events import AlarmChanged, AlarmEpisodeRecorded
from benchstation.domain.guard import AlarmKind, AlarmState
from benchstation.domain.guard_limits import GuardError
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view


def overfill(bench, gauge_pa: float) -> None:
    """Open the bottle until the gauge shows more than ``gauge_pa``, then close it."""
    model = bench.world.model
    model.regulator_gauge_pa = gauge_pa + 3e5
    model.valve_opening = 1.0
    bench.until(lambda: bench.session.gauge.instrument.latest().value > gauge_pa, 120)
    model.valve_opening = 0.0
    bench.run(0.5)


def vent_below(bench, gauge_pa: float) -> None:
    bench.world.model.vent_opening = 0.05
    bench.until(lambda: bench.session.gauge.instrument.latest().value < gauge_pa, 120)
    bench.world.model.vent_opening = 0.0
    bench.run(1.0)


def alarm(bench, kind: AlarmKind):
    return next(a for a in bench.session.watch.snapshot().alarms if a.kind is kind)


def test_the_lowest_rating_in_the_path_is_the_limit(bench):
    bench.work_to(StepKind.CHARGE)
    limits = bench.session.watch.limits
    assert (limits.limit_source, limits.limit_gauge_pa) == ("fill hose", 35e5)
    assert limits.warning_gauge_pa == 24e5


def test_an_exceeded_limit_locks_capture_until_it_is_gone_and_acknowledged(bench):
    bench.work_to(StepKind.CHARGE)
    overfill(bench, 35.2e5)
    high = alarm(bench, AlarmKind.HIGH_LIMIT)
    with pytest.raises(NotAllowedError, match="capture is locked: high limit"):
        bench.session.act("capture", {})
    with pytest.raises(GuardError, match="with a reason"):
        bench.session.watch.acknowledge("kofler", "", high.episode)
    bench.session.watch.acknowledge("kofler", "regulator set too high", high.episode)
    bench.run(0.2)
    assert alarm(bench, AlarmKind.HIGH_LIMIT).state is AlarmState.ACTIVE_ACKNOWLEDGED
    assert capture_locked(bench.session) == "high limit"
    vent_below(bench, 15e5)
    kinds = [a.kind for a in bench.session.watch.snapshot().alarms]
    assert AlarmKind.HIGH_LIMIT not in kinds
    assert bench.session.rebuild.hold_reasons == (Statement(Code.HIGH_LIMIT),)


def test_an_episode_is_recorded_with_start_peak_end_person_and_trace(bench):
    bench.work_to(StepKind.CHARGE)
    overfill(bench, 25e5)
    vent_below(bench, 15e5)
    warning = alarm(bench, AlarmKind.HIGH_WARNING)
    assert warning.state is AlarmState.RETURNED_UNACKNOWLEDGED
    bench.session.watch.acknowledge("kofler", "valve too far open", warning.episode)
    bench.run(0.2)
    (entry,) = bench.store.entries(kind=AlarmEpisodeRecorded.kind)
    episode = entry.event
    assert episode.unit_id == bench.session.rebuild.unit_id
    assert episode.acknowledged_by == "kofler"
    assert episode.peak_gauge_pa > 25e5
    assert episode.started_utc < episode.ended_utc
    trace = bench.store.get_trace(episode.trace_sha256)
    assert trace.channels["gauge_pa"].max() == pytest.approx(episode.peak_gauge_pa)
    states = [e.event.state for e in bench.store.entries(kind=AlarmChanged.kind)]
    assert states == ["active, unacknowledged", "returned, unacknowledged", "normal"]


def test_a_silent_gauge_is_an_alarm_and_never_fine(bench):
    bench.work_to(StepKind.CHARGE)
    bench.unplugged.add("gauge")
    bench.run(2.0)
    assert alarm(bench, AlarmKind.SIGNAL_LOST).state is AlarmState.ACTIVE_UNACKNOWLEDGED
    assert capture_locked(bench.session) == "signal lost"
    view = bench_view(bench.session, QuantityFormatter(UnitSystem.METRIC))
    pressure = view.strip[1]
    assert pressure.stale
    assert pressure.health == "failure"
    assert any("not known" in banner.instruction for banner in view.alarms)


def test_a_sensor_fault_is_an_alarm(bench):
    bench.work_to(StepKind.CHARGE)
    bench.world.gauge.sensor_fault = True
    bench.run(1.0)
    assert alarm(bench, AlarmKind.SIGNAL_FAULT)
    assert bench.session.gauge.good_value(bench.clock.seconds()) is None


def test_over_range_is_the_limit_exceeded(bench):
    bench.work_to(StepKind.CHARGE)
    bench.world.gauge.range_pa = 5e5
    overfilled = bench.world.model
    overfilled.regulator_gauge_pa, overfilled.valve_opening = 12e5, 1.0
    bench.run(8)
    overfilled.valve_opening = 0.0
    limit = alarm(bench, AlarmKind.HIGH_LIMIT)
    assert limit.detail.startswith("over range")
    assert AlarmKind.SIGNAL_FAULT not in {a.kind for a in bench.session.watch.snapshot().alarms}
    assert capture_locked(bench.session) == "high limit"
    with pytest.raises(GuardError, match="with a reason"):
        bench.session.watch.acknowledge("kofler", "", limit.episode)
    assert Code.HIGH_LIMIT in {reason.code for reason in bench.session.rebuild.hold_reasons}


def test_the_banner_says_what_and_where_and_what_to_do(bench):
    bench.work_to(StepKind.CHARGE)
    overfill(bench, 35.2e5)
    banner = bench_view(bench.session, QuantityFormatter(UnitSystem.METRIC)).alarms[0]
    assert banner.headline.startswith("HIGH LIMIT")
    assert "fill hose: 35.00 bar" in banner.headline
    assert "Close the bottle valve" in banner.instruction
    assert "clears below 33.95 bar" in banner.hold_label
    assert banner.needs_reason


def test_an_alarm_that_cannot_be_written_is_written_later(bench, monkeypatch):
    bench.work_to(StepKind.CHARGE)

    def full(*_: object, **__: object):
        raise StationError("the disk is full; nothing of this was kept.")

    monkeypatch.setattr(bench.store, "append", full)
    bench.unplugged.add("gauge")
    bench.run(2.0)
    assert alarm(bench, AlarmKind.SIGNAL_LOST), "the guard needs no disk"
    assert bench.session.to_write.problem == "the disk is full"
    assert capture_locked(bench.session).startswith("what happened is not on record yet")
    with pytest.raises(StationError, match="disk is full"):
        bench.session.act("mute", {})
    monkeypatch.undo()
    bench.run(1.2)
    assert "written now" in bench.session.message.text
    (entry,) = bench.store.entries(kind=AlarmChanged.kind)
    assert entry.event.alarm == "signal lost"


def test_the_whole_story_reaches_the_record(bench):
    bench.work_to(None, careless_valve=True)
    record = bench.store.entries(kind="unit.filed")[0].event.record
    assert [a["alarm"] for a in record["alarms"]] == ["high warning"]
    assert record["alarms"][0]["reason"] == "valve left open too long; bled back"
    assert not record["qa_hold"]


def test_the_banner_asks_for_words_where_the_guard_does_and_nowhere_else(bench):
    bench.work_to(StepKind.CHARGE)
    overfill(bench, bench.session.watch.limits.limit_gauge_pa + 1e5)
    bench.world.gauge.sensor_fault = True
    bench.run(2)
    bench.world.gauge.sensor_fault = False
    vent_below(bench, 0.9 * bench.session.work.charge_target.target_gauge_pa)
    bench.run(2)
    seen = {a.episode: a.kind for a in bench.session.watch.snapshot().alarms}
    assert {AlarmKind.HIGH_LIMIT, AlarmKind.HIGH_WARNING, AlarmKind.SIGNAL_FAULT} <= {
        *seen.values()
    }
    for banner in bench_view(bench.session, QuantityFormatter(UnitSystem.METRIC)).alarms:
        kind = seen[banner.id]
        assert "back to normal" in banner.instruction
        assert ("what happened" in banner.instruction) is kind.wants_reason is banner.needs_reason
        if kind.wants_reason:
            with pytest.raises(GuardError, match="with a reason"):
                bench.session.watch.acknowledge("kofler", "", banner.id)
        else:
            bench.session.watch.acknowledge("kofler", "", banner.id)
    # The warning is folded into the limit, and waits for the same words.
    left = [a.kind for a in bench.session.watch.snapshot().alarms]
    assert left == [AlarmKind.HIGH_LIMIT, AlarmKind.HIGH_WARNING]
    bench.session.watch.acknowledge("kofler", "valve left open", next(iter(seen)))
    assert bench.session.watch.snapshot().alarms == ()
