"""The window: strip above all, alarms push down, keys where they belong, and a clean end."""

import gc
import threading
import weakref
from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, Qt, QTimer
from PySide6.QtWidgets import QApplication, QWidget

from benchstation.screens.model.elements import ActionView, Tone
from benchstation.ui.shell.bridge import Message, message_of
from benchstation.ui.shell.theme import DARK, LIGHT
from benchstation.ui.shell.window import Window
from benchstation.ui.widgets.readout.alarm_banner import KEY
from tests.ui.every_page import ASIDE, EVERY_PAGE, KEYS
from tests.ui.fake_moments import (
    ALARM,
    MOMENTS,
    WARNING,
    charge,
    high_limit,
    intake,
    next_unit,
    pour,
    sign_in,
    two_alarms,
)
from tests.ui.fake_station import REFUSED, FakeHand, FakeStation
from tests.ui.waiting import comes_and_stays


def place(widget: QWidget, window: QWidget):
    """Return a widget's rectangle in the window."""
    box = widget.rect()
    box.moveTopLeft(widget.mapTo(window, box.topLeft()))
    return box


@pytest.mark.parametrize("name", MOMENTS)
def test_every_moment_can_be_drawn_in_both_themes(open_bench, name):
    bench = open_bench(MOMENTS[name]())
    for theme in (DARK, LIGHT):
        bench.window.set_theme(theme)
        image = bench.window.grab().toImage()
        assert image.pixelColor(4, 400).name() == theme.ground


@pytest.mark.parametrize("dark", [True, False])
def test_it_opens_in_the_light_that_is_asked_for(open_bench, dark):
    bench = open_bench(pour(), dark=dark)
    ground = (DARK if dark else LIGHT).ground
    assert bench.window.grab().toImage().pixelColor(4, 400).name() == ground


@pytest.mark.parametrize("page", EVERY_PAGE)
def test_the_strip_is_on_every_page_and_nothing_covers_it(open_bench, page):
    bench = open_bench(two_alarms())
    bench.key(KEYS[page])
    window = bench.window
    assert window.page == page
    assert window.strip.isVisible()
    assert place(window.strip, window).top() == 0
    strip = place(window.strip, window)
    for other in (window.banners, window.pages, window.status_bar):
        assert other.isVisible()
        assert not place(other, window).intersects(strip)


def test_an_alarm_moves_nothing_and_covers_neither_readings_nor_the_task(open_bench):
    bench = open_bench(charge())
    window = bench.window
    parts = (window.strip, window.bench.task, window.bench.route, window.status_bar)
    before = [place(part, window) for part in parts]
    bench.show(high_limit())
    banner = place(window.banners, window)
    assert [place(part, window) for part in parts] == before
    assert not any(banner.intersects(where) for where in before)
    assert not window.bench.why.isVisible()
    bench.show(charge())
    assert window.bench.why.isVisible()


def test_on_another_page_the_alarms_stand_beside_it(open_bench):
    bench = open_bench(high_limit())
    bench.key("F4")
    window = bench.window
    QApplication.processEvents()
    banner, page = place(window.banners, window), place(window.pages, window)
    assert window.banners.isVisible()
    assert banner.left() >= page.right()
    assert not banner.intersects(place(window.strip, window))
    bench.key("F2")
    QApplication.processEvents()
    assert place(window.bench.task, window).right() < place(window.banners, window).left()


def test_an_alarm_is_on_screen_as_soon_as_the_station_says_so(open_bench, qtbot):
    bench = open_bench(charge())
    bench.window.bridge._timer.stop()
    bench.station.current = high_limit()
    thread = threading.Thread(target=bench.station.callbacks[0])
    thread.start()
    thread.join()
    qtbot.waitUntil(bench.window.banners.isVisible, timeout=1000)


@pytest.mark.parametrize("page", ["F2", "F4", "F5", "F6"])
def test_the_key_holds_to_acknowledge_on_every_page(open_bench, qtbot, page):
    bench = open_bench(replace(charge(), alarms=(WARNING,)))
    bench.key(page)
    bench.down(KEY)
    qtbot.waitUntil(lambda: bool(bench.station.acknowledged), timeout=1500)
    bench.up(KEY)
    assert bench.station.acknowledged == [(WARNING.id, "")]
    qtbot.waitUntil(lambda: bench.said == "Acknowledged.", timeout=1000)


def test_the_key_let_go_too_early_acknowledges_nothing(open_bench, qtbot):
    bench = open_bench(replace(charge(), alarms=(WARNING,)))
    bench.window.banners.banners[0].button.hold_ms = 400
    bench.down(KEY)
    qtbot.wait(50)
    bench.up(KEY)
    comes_and_stays(lambda: bench.station.acknowledged == [], 450)
    assert "keep holding" in bench.window.banners.banners[0].button.words


def test_a_release_between_repeats_of_a_held_key_is_no_letting_go(open_bench, qtbot):
    bench = open_bench(replace(charge(), alarms=(WARNING,)))
    bench.window.banners.banners[0].button.hold_ms = 300
    bench.down(KEY)
    for _ in range(4):
        qtbot.wait(40)
        bench.up(KEY)
        bench.down(KEY)
    qtbot.waitUntil(lambda: bool(bench.station.acknowledged), timeout=1500)
    bench.up(KEY)


def test_the_key_works_out_of_a_field_and_the_reason_is_typed_in_place(open_bench, qtbot):
    bench = open_bench(replace(intake(), alarms=(ALARM,)))
    banner = bench.window.banners.banners[0]
    assert bench.window.focusWidget() is bench.editor("condition")
    bench.down(KEY)
    qtbot.waitUntil(lambda: bench.window.focusWidget() is banner.reason, timeout=1500)
    bench.up(KEY)
    bench.type("valve left open")
    bench.key("Return")
    assert bench.station.acknowledged == [(ALARM.id, "valve left open")]
    assert bench.station.acted == []


def test_going_to_another_window_lets_go(open_bench, qtbot, monkeypatch):
    bench = open_bench(replace(charge(), alarms=(WARNING,)), hand=FakeHand())
    bench.window.banners.banners[0].button.hold_ms = 400
    bench.down(KEY)
    bench.down("Alt+P")
    monkeypatch.setattr(bench.window, "isActiveWindow", lambda: False)
    bench.window.changeEvent(QEvent(QEvent.Type.ActivationChange))
    comes_and_stays(lambda: bench.station.acknowledged == [], 450)


def test_a_failed_acknowledgement_is_told(open_bench, qtbot):
    bench = open_bench(replace(charge(), alarms=(WARNING,)))
    bench.station.failure = REFUSED
    bench.down(KEY)
    qtbot.waitUntil(lambda: bench.said == str(REFUSED), timeout=1500)
    bench.up(KEY)


def test_readings_no_longer_hold_when_the_station_does_not_answer(open_bench):
    bench = open_bench(pour())
    bench.station.view_failure = ValueError("gone")
    bench.window.bridge.refresh()
    assert all(r.shown.stale for r in bench.window.strip.readings)
    assert bench.task.primary_readout.big.shown.stale
    assert "no longer hold" in bench.refused
    bench.station.view_failure = None
    bench.window.bridge.refresh()
    assert "no longer hold" not in bench.said, "it does not outlive what it was about"
    assert not any(r.shown.stale for r in bench.window.strip.readings)


def test_theme_by_key_and_back(open_bench):
    bench = open_bench(pour())
    bench.key("F9")
    assert bench.window.theme is LIGHT
    assert bench.window.grab().toImage().pixelColor(4, 400).name() == LIGHT.ground
    bench.key("F9")
    assert bench.window.theme is DARK


def test_sound_by_key_says_what_is_the_matter(open_bench):
    bench = open_bench(pour())
    bench.key("F8")
    assert bench.window.status_bar.buttons["sound"].action.label == "Sound unavailable"


MUTE = ActionView("mute", "Mute 120 s", "Shift+F12")


def test_the_mute_is_there_only_while_an_alarm_rings_and_goes_to_the_bench(open_bench):
    bench = open_bench(charge())
    button = bench.window.status_bar.buttons["mute"]
    assert not button.isVisible()
    bench.key("Shift+F12")
    assert bench.station.acted == []
    bench.show(replace(charge(), alarms=(WARNING,), mute=MUTE))
    assert button.isVisible()
    bench.key("Shift+F12")
    bench.click(button)
    assert bench.station.acted == [("mute", {}), ("mute", {})]
    bench.show(replace(charge(), alarms=(WARNING,), mute=replace(MUTE, label="Muted 83 s")))
    assert button.action.label == "Muted 83 s"


def test_a_muted_alarm_is_seen_and_not_heard_and_a_lost_station_is_heard_all_the_same(open_bench):
    bench = open_bench(replace(charge(), alarms=(WARNING,), mute=MUTE))
    sounder = bench.window.sounder
    assert sounder.alarm
    bench.show(replace(charge(), alarms=(WARNING,), mute=MUTE, muted=True))
    assert not sounder.alarm
    assert bench.window.banners.isVisible()
    bench.station.view_failure = REFUSED
    bench.window.bridge.refresh()
    assert sounder.alarm


def test_the_sound_switch_leaves_the_alarm_on(open_bench):
    bench = open_bench(replace(charge(), alarms=(WARNING,), mute=MUTE))
    sounder = bench.window.sounder
    sounder.available = True
    for _ in range(4):
        sounder.next_choice()
        assert sounder.wanted() == "alarm"


def test_the_hand_comes_and_goes_by_key(open_bench):
    bench = open_bench(pour(), hand=FakeHand())
    assert bench.window.bench.demo.isVisible()
    bench.key("F10")
    assert not bench.window.bench.demo.isVisible()
    bench.key("F10")
    assert bench.window.bench.demo.isVisible()
    without = open_bench(pour())
    without.key("F10")
    assert without.window.bench.demo is None
    assert "demo" not in without.window.status_bar.buttons


def test_a_refusal_goes_with_its_page_or_person_and_what_happened_by_itself_stays(open_bench):
    view = replace(charge(), who="robin", said="the tare is lost", said_tone=Tone.CAUTION)
    bench = open_bench(view)
    bench.key("F4")
    assert bench.said == "the tare is lost"
    for leave in (lambda: bench.key("F2"), lambda: bench.show(replace(view, who="kim"))):
        bench.window.tell(message_of(REFUSED))
        assert str(REFUSED) == bench.said
        assert bench.window.status_bar.line.message is None, "the foot is for what happened"
        leave()
        assert str(REFUSED) not in bench.said


def test_esc_takes_the_message_away(open_bench):
    bench = open_bench(pour())
    bench.task.refused.emit("Capture: the scale is moving")
    assert bench.refused == "Capture: the scale is moving"
    bench.key("Esc")
    assert bench.refused == ""
    bench.window.tell(Message("Tared.", Tone.GOOD))
    bench.key("Esc")
    assert bench.said == ""


def test_pages_by_key_even_out_of_a_field(open_bench):
    bench = open_bench(intake())
    for page in ASIDE:
        bench.key(KEYS["bench"])
        assert bench.window.page == "bench"
        bench.type("x")
        bench.key(KEYS[page])
        assert bench.window.page == page


@pytest.mark.parametrize(
    ("view", "page"),
    [(view, "bench") for view in (sign_in, intake, pour, high_limit)]
    + [(view, page) for view in (sign_in, high_limit) for page in ASIDE],
)
def test_everything_that_takes_the_keyboard_has_a_name(open_bench, view, page):
    bench = open_bench(view(), hand=FakeHand())
    bench.key(KEYS[page])
    QApplication.processEvents()
    nameless = [
        widget
        for widget in bench.window.findChildren(QWidget)
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus
        and widget.isVisible()
        and not widget.accessibleName()
    ]
    assert nameless == []


def test_tab_reaches_every_action_and_shift_tab_goes_back(open_bench):
    bench = open_bench(pour())
    reached = set()
    for _ in range(40):
        bench.key("Tab")
        reached.add(bench.window.focusWidget())
    buttons = [b for b in bench.task.action_bar.buttons if b.isVisible()]
    assert set(buttons) <= reached
    assert {b for b in bench.window.status_bar.buttons.values() if b.isVisible()} <= reached


def test_a_button_under_tab_takes_space_before_the_page_does(open_bench):
    bench = open_bench(pour())
    bench.button("tare").setFocus(Qt.FocusReason.TabFocusReason)
    bench.key("Space")
    assert [action for action, _ in bench.station.acted] == ["tare"]


def test_an_idle_window_repaints_nothing(open_bench, monkeypatch):
    bench = open_bench(pour())
    view = bench.station.current
    painted = []

    class Watch(QWidget):
        pass

    for widget in (
        bench.task.primary_readout.big,
        *bench.window.strip.readings,
        *bench.task.lanes.lanes,
    ):
        monkeypatch.setattr(widget, "update", lambda: painted.append(1))
    for _ in range(30):
        bench.show(replace(view, task=replace(view.task)))
    assert painted == []


def test_closing_stops_everything_once(open_bench, qtbot):
    ended = []
    station = FakeStation(pour())
    window = Window(station, on_close=lambda: ended.append(1))
    window.show()
    window.start()
    window.get_ready()
    for page in ("records", "specifications", "instruments", "bench"):
        window.switch(page)
    station.later = True
    window.bridge.act("tare", {}, ended.append, ended.append)
    window.close()
    assert [t for t in window.findChildren(QTimer) if t.isActive() and t.interval() > 0] == []
    views = station.views
    station.settle()
    for wake in station.callbacks:
        wake()
    comes_and_stays(lambda: station.views == views, 80)
    assert ended == [1]
    window.close()
    assert ended == [1]
    window.deleteLater()


def test_a_closed_window_is_not_kept_alive_by_anything_but_the_station(qtbot):
    station = FakeStation(pour())
    window = Window(station)
    window.show()
    window.start()
    window.close()
    gone = []
    window.destroyed.connect(lambda: gone.append(1))
    gone_too = weakref.ref(window.bench)
    window.deleteLater()
    del window
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
    assert gone == [1]
    assert gone_too() is None


def test_a_text_that_is_not_kept_holds_the_window_once(open_bench):
    bench = open_bench(pour())
    bench.key("F5")
    page = bench.window.made["specifications"]
    QApplication.processEvents()
    bench.key("Ctrl+N")
    bench.type("# why")
    bench.key("F2")
    assert not bench.window.close()
    assert bench.window.isVisible()
    assert bench.window.page == "specifications"
    assert "not saved yet" in bench.said
    assert page.editor.text.startswith("# why")
    bench.type("!")
    assert not bench.window.close(), "what was written since has not been warned of"
    assert bench.window.close()


def test_quiet_is_when_nothing_runs(open_bench):
    bench = open_bench(sign_in())
    assert bench.window.is_quiet()
    bench.show(pour())
    assert not bench.window.is_quiet()
    bench.show(high_limit())
    assert not bench.window.is_quiet()
    assert bench.window.banners.banners[0].mark.accessibleName() == Tone.DANGER


def test_the_bench_page_has_the_keyboard_again_after_another_page(open_bench):
    bench = open_bench(sign_in())
    bench.key("F5")
    bench.window.setFocus()
    bench.show(next_unit())
    bench.key("F2")
    bench.type("MR-3102")
    assert bench.editor("serial").text() == "MR-3102"


def test_what_went_wrong_at_a_step_does_not_outlive_it(open_bench):
    view = replace(charge(), said="let gas in first", said_tone=Tone.CAUTION)
    bench = open_bench(view)
    assert bench.foot == "let gas in first"
    bench.show(replace(view, clock="09:01"))
    assert bench.foot == "let gas in first"
    bench.show(replace(view, task=replace(view.task, step_id="seal")))
    assert bench.foot == ""
