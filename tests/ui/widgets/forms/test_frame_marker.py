"""Frames to choose characters in: what is chosen goes back, and nothing can be typed."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QTextCursor
from PySide6.QtTest import QTest

from benchstation.screens.model.onboarding import FrameLine, FramesView
from benchstation.ui.widgets.forms.frame_marker import FrameMarker

VIEW = FramesView(
    "··####u",
    (
        FrameLine("7", "W 12.5g", "12.5 g, steady", fits=True),
        FrameLine("0", "W <b>1", "bad frame", fits=False),
    ),
)


@pytest.fixture
def marker(qtbot):
    made = FrameMarker()
    qtbot.addWidget(made)
    made.resize(600, 200)
    made.show_frames(VIEW)
    made.show()
    return made


def choose(marker, line, start, end):
    block = marker.document().findBlockByNumber(line)
    cursor = marker.textCursor()
    cursor.setPosition(block.position() + start)
    cursor.setPosition(block.position() + end, QTextCursor.MoveMode.KeepAnchor)
    marker.setTextCursor(cursor)


def test_the_ruler_stands_over_the_frames_and_words_behind_them(marker):
    lines = marker.toPlainText().splitlines()
    assert lines[0] == "··####u"
    assert lines[1] == "W 12.5g   fits: 12.5 g, steady"
    assert lines[2] == "W <b>1    no: bad frame"


def test_what_is_chosen_goes_back_with_the_frames_key(marker):
    choose(marker, 1, 2, 6)
    assert marker.chosen() == {"frame": "7", "from": "2", "to": "6"}
    choose(marker, 2, 0, 1)
    assert marker.chosen() == {"frame": "0", "from": "0", "to": "1"}


def test_words_behind_a_frame_and_the_ruler_are_nothing_to_mark(marker):
    assert marker.chosen() == {}
    choose(marker, 0, 0, 3)
    assert marker.chosen() == {}
    choose(marker, 1, 4, 20)
    assert marker.chosen() == {"frame": "7", "from": "4", "to": "7"}


def test_it_is_chosen_with_the_keyboard_alone(marker):
    marker.setFocus()
    for key in (Qt.Key.Key_Home, Qt.Key.Key_Down, Qt.Key.Key_Right):
        QTest.keyClick(marker, key)
    for _ in range(3):
        QTest.keyClick(marker, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    assert marker.chosen() == {"frame": "7", "from": "1", "to": "4"}


def test_nothing_is_typed_and_the_pages_keys_go_to_the_page(marker):
    before = marker.toPlainText()
    QTest.keyClicks(marker, "abc")
    assert marker.toPlainText() == before
    for key in (Qt.Key.Key_1, Qt.Key.Key_S):
        assert not _taken(marker, key, Qt.KeyboardModifier.ControlModifier)
    assert not _taken(marker, Qt.Key.Key_Return, Qt.KeyboardModifier.NoModifier)


def _taken(marker, key, modifiers) -> bool:
    from PySide6.QtCore import QEvent
    from PySide6.QtGui import QKeyEvent

    event = QKeyEvent(QEvent.Type.KeyPress, key, modifiers, chr(key) if key < 128 else "")
    marker.keyPressEvent(event)
    return event.isAccepted()


def test_a_new_ruler_keeps_what_is_chosen_and_other_frames_do_not(marker):
    choose(marker, 1, 2, 6)
    marker.show_frames(FramesView("ss####u", VIEW.lines))
    assert marker.chosen() == {"frame": "7", "from": "2", "to": "6"}
    marker.show_frames(FramesView("ss####u", VIEW.lines[::-1]))
    assert marker.chosen() == {}
