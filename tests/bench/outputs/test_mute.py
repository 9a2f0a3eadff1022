"""Muting the alarm's sound: by name, for a time, on record, and never for the next alarm."""

import pytest

from benchstation.bench.outputs.mute import MUTE_S
from benchstation.domain.events import AlarmMuted
from benchstation.domain.guard import AlarmKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view

WARNING_PA, LIMIT_PA = 29e5, 37e5
"""Above the demo path's warning, and above its limit of 35 bar."""


def view(bench):
    return bench_view(bench.session, QuantityFormatter(UnitSystem.METRIC))


def press(bench, gauge_pa):
    bench.world.gauge.offset_pa = gauge_pa
    bench.run(1.0)


def acknowledge_all(bench):
    for alarm in bench.session.watch.snapshot().alarms:
        bench.session.watch.acknowledge("kofler", "tried", alarm.episode)
    bench.run(0.2)


@pytest.fixture
def ringing(bench):
    """A high warning that rings, with somebody signed in and nothing else open."""
    bench.sign_in()
    press(bench, WARNING_PA)
    others = [
        a for a in bench.session.watch.snapshot().alarms if a.kind is not AlarmKind.HIGH_WARNING
    ]
    for alarm in others:
        bench.session.watch.acknowledge("kofler", "put on", alarm.episode)
    bench.run(0.2)
    assert view(bench).rings
    return bench


def test_a_mute_is_timed_and_on_record(ringing):
    before = ringing.clock.utc()
    said = ringing.session.act("mute", {})
    assert "Mira Kofler" in said
    assert view(ringing).mute.label == f"Muted {MUTE_S:.0f} s"
    assert not view(ringing).rings
    assert view(ringing).alarms  # still seen
    (entry,) = ringing.store.entries(kind=AlarmMuted.kind)
    (alarm,) = ringing.session.watch.snapshot().alarms
    assert entry.person == "kofler"
    assert entry.utc >= before
    assert (entry.event.episodes, entry.event.seconds) == ((alarm.episode,), MUTE_S)
    ringing.run(MUTE_S - 1.5)
    assert view(ringing).mute.label == "Muted 2 s"
    ringing.run(2.0)
    assert view(ringing).rings
    assert view(ringing).mute.label == f"Mute {MUTE_S:.0f} s"


def test_an_episode_is_muted_twice_and_then_acknowledged(ringing):
    for _ in range(2):
        ringing.session.act("mute", {})
        ringing.run(MUTE_S + 1.0)
        assert view(ringing).rings
    assert view(ringing).mute.why_not == "muted 2 times already: acknowledge it"
    with pytest.raises(NotAllowedError, match="muted 2 times already"):
        ringing.session.act("mute", {})
    assert view(ringing).rings
    acknowledge_all(ringing)
    press(ringing, 0.0)
    press(ringing, WARNING_PA)
    ringing.session.act("mute", {})
    assert not view(ringing).rings, "another episode counts for itself"


def test_a_limit_that_goes_on_rising_is_heard_though_muted(ringing):
    press(ringing, LIMIT_PA)
    ringing.session.act("mute", {})
    assert not view(ringing).rings
    press(ringing, LIMIT_PA + 2e5)
    assert view(ringing).rings


def test_a_new_alarm_is_heard_at_once(ringing):
    ringing.session.act("mute", {})
    press(ringing, LIMIT_PA)
    assert AlarmKind.HIGH_LIMIT in [a.kind for a in ringing.session.watch.snapshot().alarms]
    assert view(ringing).rings


def test_a_silent_gauge_is_a_new_alarm_too(ringing):
    ringing.session.act("mute", {})
    ringing.unplugged.add("gauge")
    ringing.run(2.0)
    assert view(ringing).rings


def test_an_acknowledgement_ends_it_so_that_the_next_one_starts_afresh(ringing):
    ringing.session.act("mute", {})
    acknowledge_all(ringing)
    assert view(ringing).mute is None
    press(ringing, 0.0)
    acknowledge_all(ringing)
    press(ringing, WARNING_PA)
    assert view(ringing).rings


def test_nobody_mutes_unseen_or_unnamed(ringing):
    ringing.session.act("sign_out", {})
    assert view(ringing).mute.why_not == "sign in first"
    with pytest.raises(NotAllowedError, match="nobody is signed in"):
        ringing.session.act("mute", {})
    assert view(ringing).rings


def test_there_is_nothing_to_mute_in_advance(bench):
    bench.sign_in()
    acknowledge_all(bench)
    assert view(bench).mute is None
    with pytest.raises(NotAllowedError, match="no alarm sounds"):
        bench.session.act("mute", {})
    assert bench.store.entries(kind=AlarmMuted.kind) == []


def test_what_cannot_be_put_on_record_is_not_muted(ringing, monkeypatch):
    def full(*_, **__):
        raise OSError("full")

    monkeypatch.setattr(ringing.store, "append", full)
    with pytest.raises(OSError, match="full"):
        ringing.session.act("mute", {})
    monkeypatch.undo()
    assert view(ringing).rings
