"""The thread crossing: what other threads say arrives in the window's thread, in few signals."""

import threading
from concurrent.futures import CancelledError, Future
from dataclasses import replace

import pytest

from benchstation.driver_api.errors import StationError
from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.bridge import Bridge, message_of, without_trust
from tests.ui.fake_moments import pour
from tests.ui.fake_station import REFUSED, FakeStation
from tests.ui.waiting import comes_and_stays


@pytest.fixture
def bridge(qapp):
    made = Bridge(FakeStation(pour()))
    yield made
    made.close()
    made.deleteLater()


def from_a_thread(work) -> None:
    thread = threading.Thread(target=work)
    thread.start()
    thread.join()


def test_start_shows_the_moment_at_once(bridge):
    seen = []
    bridge.seen.connect(seen.append)
    bridge.start()
    assert seen == [bridge.port.current]


def test_it_goes_on_asking(bridge, qtbot):
    bridge.start()
    qtbot.waitUntil(lambda: bridge.port.views >= 4, timeout=2000)


def test_a_moment_is_passed_on_once_and_another_one_at_the_next_look(bridge, qtbot):
    seen = []
    bridge.seen.connect(seen.append)
    bridge.start()
    first, looks = bridge.port.current, bridge.port.views
    qtbot.waitUntil(lambda: bridge.port.views >= looks + 5, timeout=2000)
    assert seen == [first]
    bridge.port.current = replace(first, person="somebody else")
    qtbot.waitUntil(lambda: seen == [first, bridge.port.current], timeout=2000)
    bridge.refresh()
    assert len(seen) == 3, "who asks for it gets it again"


def test_a_moment_that_was_lost_is_passed_on_again(bridge):
    seen = []
    bridge.seen.connect(seen.append)
    bridge.start()
    bridge.port.view_failure = StationError("the bench has not answered for 2.0 s.")
    bridge.refresh()
    bridge.port.view_failure = None
    bridge.refresh()
    assert seen == [bridge.port.current] * 2


def test_what_cannot_wait_comes_in_the_windows_thread_without_the_timer(bridge, qtbot):
    threads = []
    bridge.seen.connect(lambda _: threads.append(threading.current_thread()))
    (wake,) = bridge.port.callbacks
    from_a_thread(wake)
    assert threads == []
    qtbot.waitUntil(lambda: bool(threads), timeout=1000)
    assert threads == [threading.main_thread()]


def test_a_flood_of_changes_is_one_refresh(bridge, qtbot):
    (wake,) = bridge.port.callbacks
    from_a_thread(lambda: [wake() for _ in range(10_000)])
    before = bridge.port.views
    comes_and_stays(lambda: bridge.port.views == before + 1, 30)


def test_a_result_comes_back_in_the_windows_thread(bridge, qtbot):
    bridge.port.later = True
    told = []
    bridge.act(
        "tare", {"x": "1"}, lambda text: told.append((text, threading.current_thread())), None
    )
    assert bridge.port.acted == [("tare", {"x": "1"})]
    from_a_thread(bridge.port.settle)
    assert told == []
    qtbot.waitUntil(lambda: bool(told), timeout=1000)
    assert told == [("tare: done.", threading.main_thread())]


def test_a_failure_comes_as_words(bridge, qtbot):
    bridge.port.failure = REFUSED
    told = []
    bridge.act("capture", {}, None, told.append)
    qtbot.waitUntil(lambda: bool(told), timeout=1000)
    assert told[0].tone is Tone.CAUTION
    for part in (REFUSED.where, REFUSED.what, REFUSED.advice):
        assert part in told[0].text


def test_an_ask_that_raises_at_once_is_told_too(bridge):
    told = []

    def ask():
        raise StationError("no such record.", where="Records", advice="Search again.")

    bridge.follow(ask, None, told.append)
    assert told[0].text == "Records: no such record. Search again."


def test_a_cancelled_result_is_told(bridge, qtbot):
    future: Future[str] = Future()
    told = []
    bridge.follow(lambda: future, None, told.append)
    future.cancel()
    future.set_running_or_notify_cancel()
    qtbot.waitUntil(lambda: bool(told), timeout=1000)
    assert "cancelled" in told[0].text


def test_nothing_comes_after_closing(bridge, qtbot):
    bridge.port.later = True
    told = []
    bridge.act("tare", {}, told.append, told.append)
    bridge.close()
    from_a_thread(bridge.port.settle)
    from_a_thread(bridge.port.callbacks[0])
    views = bridge.port.views
    comes_and_stays(lambda: told == [], 60)
    assert bridge.port.views == views


def test_a_view_that_fails_is_told_once_and_again_after_it_came_back(bridge, caplog):
    lost = []
    bridge.lost.connect(lost.append)
    bridge.port.view_failure = ValueError("broken")
    for _ in range(5):
        bridge.refresh()
    assert len(lost) == 1
    assert len(caplog.records) == 1
    bridge.port.view_failure = None
    bridge.refresh()
    bridge.port.view_failure = ValueError("broken")
    bridge.refresh()
    assert len(lost) == 2


def test_a_bug_is_called_one_and_its_words_go_to_the_log(caplog):
    message = message_of(KeyError("secret detail"))
    assert message.tone is Tone.DANGER
    assert "KeyError" in message.text
    assert "secret" not in message.text
    assert "secret detail" in caplog.text


def test_words_for_cancelling():
    assert message_of(CancelledError()).tone is Tone.CAUTION


def test_without_trust_every_reading_is_stale():
    view = pour()
    doubted = without_trust(view, "not known now")
    assert all(r.stale and r.tone is Tone.DANGER for r in doubted.strip)
    assert [r.number for r in doubted.strip] == [r.number for r in view.strip]
    assert doubted.task.big == replace(view.task.big, stale=True)
    assert doubted.task.urge == 0.0
    empty = replace(view, task=replace(view.task, big=None))
    assert without_trust(empty, "x").task.big is None
