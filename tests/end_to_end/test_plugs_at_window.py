"""Both devices come and go before the window, on real lines; nothing of it stays."""

import pytest

from benchstation.domain.events import AlarmChanged
from benchstation.domain.guard import AlarmKind, AlarmState
from tests.end_to_end.hands import acknowledge, sign_in
from tests.long_life.counting import counted

MEMORY_KB = 8192
SHARE = 0.02


@pytest.mark.parametrize(
    "plugs", [2, pytest.param(200, marks=[pytest.mark.soak, pytest.mark.timeout(3600)])]
)
def test_plugs_before_the_window(person, plugs):
    session, served = person.session, person.bench.served
    sign_in(person)

    def read(role: str) -> bool:
        return getattr(session, role).good_value(session.clock.seconds()) is not None

    def pull(times: int):
        for _ in range(times):
            served.scale.unplug()
            served.gauge.unplug()
            person.until(lambda: bool(person.window.view.alarms))
            served.scale.replug()
            served.gauge.replug()
            person.until(lambda: read("scale") and read("gauge"))
            acknowledge(person)
            person.until(lambda: not person.window.view.alarms)
        return counted(person.window)

    first = pull(max(1, plugs // 2))
    last = pull(plugs)
    # A list keeps as many rows as it ever showed at once, and a word more may stand just now.
    assert last.more_than(first).keys() <= {"qt", "connections"}
    assert last.qt.total() <= first.qt.total() * (1.0 + SHARE)
    assert last.connections <= first.connections * (1.0 + SHARE)
    assert last.rss_kb < first.rss_kb + MEMORY_KB
    raised = [
        entry.event
        for entry in session.store.entries(kind=AlarmChanged.kind)
        if entry.event.state == AlarmState.ACTIVE_UNACKNOWLEDGED.value
    ]
    assert {event.alarm for event in raised} == {AlarmKind.SIGNAL_LOST.value}
    assert len({event.episode for event in raised}) == plugs + max(1, plugs // 2)
    assert session.watch.snapshot().alarms == ()
    assert not session.watch.snapshot().capture_locked
    assert session.store.verify().ok
