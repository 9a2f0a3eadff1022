"""The foot: the last word stays as long as it must, and pages have their keys."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.bench_view import ActionView, Tone
from benchstation.ui import text_scale
from benchstation.ui.bridge import Message
from benchstation.ui.widgets import foot as module
from benchstation.ui.widgets.foot import Foot, MessageLine
from tests.ui.fitting import problems


@pytest.fixture
def foot(shown):
    pages = (
        ActionView("bench", "Bench", "F2", primary=True),
        ActionView("records", "Records", "F4"),
    )
    made = shown(Foot(pages, (ActionView("lights", "Lights", "F9"),)), size=(1200, 90))
    made.went = []
    made.pressed.connect(made.went.append)
    return made


def test_buttons_name_what_was_pressed(foot):
    for name in ("records", "lights"):
        QTest.mouseClick(foot.buttons[name], Qt.MouseButton.LeftButton)
    assert foot.went == ["records", "lights"]


def test_a_switch_changes_its_words(foot):
    foot.show_switch(ActionView("lights", "Lights on", "F9"))
    assert foot.buttons["lights"].action.label == "Lights on"


def test_a_message_keeps_buttons_where_they_are(foot):
    QApplication.processEvents()
    before = {name: b.geometry() for name, b in foot.buttons.items()}
    foot.line.tell(Message("Tared.", Tone.GOOD))
    QApplication.processEvents()
    assert {name: b.geometry() for name, b in foot.buttons.items()} == before


def test_a_good_word_goes_by_itself_and_one_that_asks_stays(shown, qtbot, monkeypatch):
    monkeypatch.setattr(module, "GOOD_FOR_MS", 30)
    line = shown(MessageLine())
    line.tell(Message("Locked: the scale is stale.", Tone.CAUTION))
    qtbot.wait(80)
    assert line.isVisible()
    line.tell(Message("Tared.", Tone.GOOD))
    assert line.isVisible()
    qtbot.waitUntil(lambda: not line.isVisible(), timeout=1000)
    assert line.message is None


def test_a_word_that_asks_is_not_taken_away_by_an_older_good_one(shown, qtbot, monkeypatch):
    monkeypatch.setattr(module, "GOOD_FOR_MS", 30)
    line = shown(MessageLine())
    line.tell(Message("Tared.", Tone.GOOD))
    line.tell(Message("Locked.", Tone.CAUTION))
    qtbot.wait(80)
    assert line.words.text() == "Locked."
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


def test_a_long_word_gets_a_row_and_is_never_cut(foot):
    def rows() -> set[int]:
        QApplication.processEvents()
        return {foot.buttons["records"].y(), foot.buttons["lights"].y()}

    foot.resize(520, 160)
    assert len(rows()) == 1
    foot.line.tell(Message("Tared.", Tone.GOOD))
    high = foot.heightForWidth(foot.width())
    assert high > 0
    foot.line.tell(Message("Close the unit, vent the line, take the gauge off. " * 2, Tone.CAUTION))
    assert len(rows()) == 2
    words = foot.line.words
    assert words.heightForWidth(words.width()) <= words.height()
    foot.line.clear()
    assert len(rows()) == 1
    assert foot.heightForWidth(foot.width()) == high


@pytest.mark.parametrize("percent", [100, 150])
def test_eight_pages_and_five_switches_find_room(shown, percent):
    text_scale.choose(percent)
    names = ("Bench", "Queue", "Records", "Specifications", "Instruments", "Stores", "People", "X")
    pages = tuple(ActionView(name, name, f"F{n}") for n, name in enumerate(names, 2))
    switches = tuple(
        ActionView(name, name, "F10") for name in ("Hand", "Help", "Sound on", "Mute", "Lights")
    )
    foot = shown(Foot(pages, switches), size=(1280, 200))
    foot.line.tell(Message("The oil is captured; the step is signed.", Tone.GOOD))
    QApplication.processEvents()
    assert problems(foot.window()) == []
    assert foot.sizeHint().height() <= 170
