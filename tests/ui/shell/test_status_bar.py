"""The status bar: the last word stays as long as it must, and pages have their keys."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtGui import QAccessibleAnnouncementEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication

from benchstation.screens.model.elements import ActionView, Tone
from benchstation.ui.shell import status_bar as module
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.bridge import Message
from benchstation.ui.shell.page_names import PAGES
from benchstation.ui.shell.status_bar import MessageLine, StatusBar
from tests.ui.fake_moments import MOMENTS, pour
from tests.ui.fake_station import FakeHand
from tests.ui.fitting import problems
from tests.ui.waiting import comes_and_stays, settled


@pytest.fixture
def status_bar(shown):
    pages = (
        ActionView("bench", "Bench", "F2", primary=True),
        ActionView("records", "Records", "F4"),
    )
    made = shown(StatusBar(pages, (ActionView("theme", "Theme", "F9"),)), size=(1200, 90))
    made.went = []
    made.pressed.connect(made.went.append)
    return made


def test_buttons_name_what_was_pressed(status_bar):
    for name in ("records", "theme"):
        QTest.mouseClick(status_bar.buttons[name], Qt.MouseButton.LeftButton)
    assert status_bar.went == ["records", "theme"]


def test_a_switch_changes_its_words(status_bar):
    status_bar.show_switch(ActionView("theme", "Theme on", "F9"))
    assert status_bar.buttons["theme"].action.label == "Theme on"


def test_a_message_keeps_buttons_where_they_are(status_bar):
    QApplication.processEvents()
    before = {name: b.geometry() for name, b in status_bar.buttons.items()}
    status_bar.line.tell(Message("Tared.", Tone.GOOD))
    QApplication.processEvents()
    assert {name: b.geometry() for name, b in status_bar.buttons.items()} == before


def test_a_good_word_goes_by_itself_and_one_that_asks_stays(shown, qtbot, monkeypatch):
    monkeypatch.setattr(module, "GOOD_FOR_MS", 30)
    line = shown(MessageLine())
    line.tell(Message("Locked: the scale is stale.", Tone.CAUTION))
    comes_and_stays(lambda: line.isVisible(), 80)
    line.tell(Message("Tared.", Tone.GOOD))
    assert line.isVisible()
    qtbot.waitUntil(lambda: not line.isVisible(), timeout=1000)
    assert line.message is None


def test_a_word_that_asks_is_not_taken_away_by_an_older_good_one(shown, qtbot, monkeypatch):
    monkeypatch.setattr(module, "GOOD_FOR_MS", 30)
    line = shown(MessageLine())
    line.tell(Message("Tared.", Tone.GOOD))
    line.tell(Message("Locked.", Tone.CAUTION))
    comes_and_stays(lambda: line.words.text() == "Locked.", 80)
    assert line.isVisible()


def test_the_meaning_is_a_shape_and_a_ground_too(shown):
    line = shown(MessageLine())
    line.tell(Message("<b>Locked</b>", Tone.DANGER))
    assert line.mark.accessibleName() == "danger"
    assert line.property("wash") == "danger"
    assert line.words.text() == "<b>Locked</b>"
    assert line.words.textFormat() is Qt.TextFormat.PlainText
    line.tell(Message("Working…", Tone.QUIET))
    assert not line.mark.isVisible()


LONG = "The fill lies outside the physical fill window; correct the fill or the charge. " * 6


@pytest.mark.parametrize("percent", [100, 115, 130, 150])
@pytest.mark.parametrize("size", [(1180, 720), (1280, 800), (1366, 768), (1600, 900)])
@pytest.mark.parametrize("hand", [None, FakeHand()], ids=["", "hand"])
def test_no_message_however_long_moves_anything(open_bench, percent, size, hand):
    window = open_bench(pour(), size=size, text_percent=percent, hand=hand).window

    def places() -> list[QRect]:
        QTest.qWait(30)
        return [
            QRect(w.mapTo(window, QPoint(0, 0)), w.size())
            for w in (window.pages, window.status_bar, *window.findChildren(QAbstractButton))
            if w.isVisible() and w is not window.status_bar.line.show_all
        ]

    before, line = places(), window.status_bar.line
    for text in ("Tared.", LONG[:80], LONG[:160], LONG):
        window.tell(Message(text, Tone.GOOD))
        assert places() == before, text
        assert problems(line) == []
        words = line.words.text()
        assert line.show_all.isVisible() == (words != text)
        assert text.startswith(words.removesuffix("…"))
    assert line.show_all.isVisible()


def test_an_alarms_mute_moves_no_page(open_bench):
    bench = open_bench(pour(), size=(1280, 800))
    pages = [bench.window.status_bar.buttons[name] for name, _, _ in PAGES]
    before = [b.geometry() for b in pages]
    bench.show(replace(pour(), mute=ActionView("mute", "Mute", "Shift+F12")))
    settled()
    assert bench.window.status_bar.buttons["mute"].isVisible()
    assert [b.geometry() for b in pages] == before


def test_the_full_message_is_read_out_and_shown_when_asked_for(open_bench, monkeypatch):
    said = []

    def hear(event):
        if isinstance(event, QAccessibleAnnouncementEvent):
            said.append(event.message())

    bench = open_bench(pour())
    monkeypatch.setattr(module.QAccessible, "updateAccessibility", hear)
    window, line = bench.window, bench.window.status_bar.line
    window.tell(Message(LONG, Tone.GOOD))
    assert said == [LONG]
    assert line.accessibleName() == LONG
    whole = window.status_bar.full_message
    assert not whole.isVisible()
    bench.key("Shift+F1")
    assert whole.isVisible()
    assert whole.words.text() == LONG
    assert problems(whole) == []
    bench.key("Esc")
    assert not whole.isVisible()
    assert line.message is not None
    bench.click(line.show_all)
    assert whole.isVisible()
    bench.click(whole.close_it)
    assert not whole.isVisible()


@pytest.mark.parametrize("percent", [100, 150])
def test_the_full_message_gives_way_to_an_alarm_and_covers_none(open_bench, percent):
    bench = open_bench(pour(), text_percent=percent)
    window = bench.window
    window.tell(Message(LONG, Tone.GOOD))
    bench.key("Shift+F1")
    bench.show(MOMENTS["two-alarms"]())
    assert not window.status_bar.full_message.isVisible()
    bench.key("Shift+F1")
    settled()
    assert window.status_bar.full_message.isVisible()
    parts = (window.status_bar.full_message, window.banners)
    over, alarms = (QRect(part.mapTo(window, QPoint(0, 0)), part.size()) for part in parts)
    assert not over.intersects(alarms)
    window.tell(Message("Tared.", Tone.GOOD))
    assert not window.status_bar.full_message.isVisible()
    assert not window.status_bar.line.show_all.isVisible()


@pytest.mark.parametrize("percent", [100, 150])
def test_eight_pages_and_five_switches_find_room(shown, percent):
    text_scale.choose(percent)
    names = (
        "Bench",
        "Queue",
        "Records",
        "Specifications",
        "Instruments",
        "Materials",
        "People",
        "X",
    )
    pages = tuple(ActionView(name, name, f"F{n}") for n, name in enumerate(names, 2))
    switches = tuple(
        ActionView(name, name, "F10") for name in ("Hand", "Help", "Sound on", "Mute", "Theme")
    )
    status_bar = shown(StatusBar(pages, switches), size=(1280, 200))
    status_bar.line.tell(Message("The oil is captured; the step is signed.", Tone.GOOD))
    QApplication.processEvents()
    assert problems(status_bar.window()) == []
    assert status_bar.sizeHint().height() <= 170
