"""The text: checked when the typing stops, given back exactly, never lost."""

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtTest import QSignalSpy, QTest
from PySide6.QtWidgets import QPlainTextEdit

from benchstation.ui.widgets.forms.specification_editor import (
    CHECK_AFTER_MS,
    CHECKING,
    MOST_WORDS,
    NOTHING_WRONG,
    SpecificationEditor,
)
from tests.ui.waiting import comes_and_stays

# What a text block can hold: no controls, no surrogates, none of the line breaks beside \n.
LETTERS = st.characters(
    exclude_categories=("Cc", "Cs", "Co", "Cn"), exclude_characters="\u2028\u2029\ufffc\ufdd0\ufdd1"
)


@pytest.fixture
def editor(shown):
    made = shown(SpecificationEditor(), size=(500, 400))
    made.begin('volume = "262 mL"\n')
    made.area.setFocus()
    return made


@given(st.text(alphabet=st.one_of(LETTERS, st.just("\n"), st.just("\t"), st.just("\u00a0"))))
@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_a_text_comes_back_as_it_was_put_in(editor, text):
    editor.forget()
    editor.begin(text)
    assert editor.text == text


def test_typing_is_checked_once_when_it_stops(editor, qtbot):
    paused = QSignalSpy(editor.paused)
    for _ in range(5):
        QTest.keyClicks(editor.area, "x")
        qtbot.wait(20)
    assert editor.checked.text() == CHECKING
    assert paused.count() == 0
    qtbot.waitUntil(lambda: paused.count() == 1, timeout=CHECK_AFTER_MS + 1000)
    comes_and_stays(lambda: paused.count() == 1, CHECK_AFTER_MS)


def test_putting_a_text_in_is_not_typing(editor, qtbot):
    paused = QSignalSpy(editor.paused)
    editor.begin("other")
    QTest.keyClicks(editor.area, "x")
    editor.begin("more")
    QTest.keyClicks(editor.area, "x")
    editor.forget()
    comes_and_stays(lambda: paused.count() == 0, CHECK_AFTER_MS + 80)


def test_a_text_that_someone_wrote_comes_back_by_undo(editor):
    assert editor.kept_words == ""
    QTest.keyClicks(editor.area, "# mine")
    written = editor.text
    assert editor.kept_words == written
    editor.begin("another text")
    assert editor.text == "another text"
    QTest.keyClick(editor.area, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert editor.text == written
    QTest.keyClick(editor.area, Qt.Key.Key_Y, Qt.KeyboardModifier.ControlModifier)
    assert editor.text == "another text"


def test_a_text_that_nobody_touched_is_not_kept(editor):
    editor.begin("another text")
    editor.area.undo()
    assert editor.text == "another text"
    assert editor.kept_words == ""
    editor.mark_unkept()
    assert editor.kept_words == "another text"
    editor.forget()
    assert editor.kept_words == ""


def test_problems_stand_above_in_words(editor):
    editor.show_problems(("oil.volume: Field required.", "<b>gas</b>"))
    assert editor.problems.isVisible()
    assert editor.problems.words.text() == "oil.volume: Field required.\n<b>gas</b>"
    assert editor.problems.geometry().bottom() < editor.area.geometry().top()
    editor.show_problems(())
    assert not editor.problems.isVisible()
    assert editor.checked.text() == NOTHING_WRONG


def test_many_problems_leave_room_for_the_text(editor):
    editor.show_problems(("a problem; " * 500,))
    assert len(editor.problems.words.text()) < MOST_WORDS + 20
    assert editor.problems.words.text().endswith("and more")


def test_it_says_where_the_cursor_is(editor):
    assert editor.place.text() == "line 1, column 1"
    QTest.keyClick(editor.area, Qt.Key.Key_Down)
    QTest.keyClicks(editor.area, "ab")
    assert editor.place.text() == "line 2, column 3"


@pytest.mark.parametrize("letter", ["E", "S", "N", "O", "1", "U"])
def test_keys_of_the_page_pass_and_change_nothing(editor, monkeypatch, letter):
    heard = []
    monkeypatch.setattr(QPlainTextEdit, "keyPressEvent", lambda _, e: heard.append(e.text()))
    before = editor.text
    QTest.keyClick(
        editor.area, getattr(Qt.Key, f"Key_{letter}"), Qt.KeyboardModifier.ControlModifier
    )
    assert [text for text in heard if text] == []
    assert editor.text == before


def test_tab_leaves_and_the_text_is_plain_and_has_a_name(editor):
    assert editor.area.tabChangesFocus()
    assert editor.area.accessibleName() == "text of the specification"
    assert editor.problems.words.textFormat() is Qt.TextFormat.PlainText
