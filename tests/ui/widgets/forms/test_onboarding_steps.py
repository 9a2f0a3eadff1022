"""The steps on screen: keys go where the question is answered, and what is typed stays."""

from concurrent.futures import Future
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.driver_api.errors import StationError
from benchstation.screens.model.elements import (
    ActionView,
    BigNumber,
    FieldKind,
    FieldView,
    StepState,
    StepView,
    Tone,
)
from benchstation.screens.model.onboarding import AddingView, ChoiceRow
from benchstation.ui.shell.bridge import Answers
from benchstation.ui.widgets.forms.onboarding_steps import AddingSteps
from tests.ui.fake_station import REFUSED

ASK = AddingView(
    "one",
    "A <b>question</b>",
    "How to answer it.",
    steps=(StepView("one", "One", StepState.NOW, "", False),),
    lines=(("Mind this.", Tone.CAUTION),),
    raw_lines=("41 42   AB",),
    fields=(
        FieldView("name", "Name", FieldKind.TEXT),
        FieldView("pin", "PIN", FieldKind.PIN),
    ),
    actions=(
        ActionView("go", "Continue", "Return", primary=True),
        ActionView("stay", "Stay", "Ctrl+G", False, "not yet"),
    ),
)
CHOOSE = AddingView(
    "two",
    "Which?",
    "",
    rows_name="ports",
    rows=(ChoiceRow("a", "A", ""), ChoiceRow("b", "B", "")),
    row="b",
    actions=(ActionView("go", "Continue", "Return", primary=True),),
)


class Port:
    """Shows what a test gives it, and takes note of what comes back."""

    def __init__(self) -> None:
        self.view, self.acted, self.failure, self.answer = ASK, [], None, "done."

    def adding(self):
        if isinstance(self.view, Exception):
            raise self.view
        return self.view

    def adding_act(self, action, fields):
        self.acted.append((action, dict(fields)))
        future = Future()
        if self.failure:
            future.set_exception(self.failure)
        else:
            future.set_result(self.answer)
        return future


@pytest.fixture
def port():
    return Port()


@pytest.fixture
def steps(shown, port):
    made = shown(AddingSteps(Answers(), port), size=(1200, 700))
    made.said = []
    made.told.connect(made.said.append)
    return made


def test_the_keyboard_goes_to_the_first_field_and_enter_goes_on(steps, port, qtbot):
    editor = steps.form.rows[0].editor
    assert steps.window().focusWidget() is editor
    QTest.keyClicks(editor, "Ana")
    QTest.keyClick(editor, Qt.Key.Key_Return)
    QTest.keyClicks(steps.window().focusWidget(), "924716")
    QTest.keyClick(steps.window().focusWidget(), Qt.Key.Key_Return)
    assert port.acted == [("go", {"name": "Ana", "pin": "924716", "row": ""})]
    qtbot.waitUntil(lambda: [m.text for m in steps.said] == ["done."])


def test_texts_are_plain(steps):
    assert steps.title.textFormat() is Qt.TextFormat.PlainText
    assert steps.raw.textFormat() is Qt.TextFormat.PlainText
    assert steps.title.text() == "A <b>question</b>"


def test_what_is_refused_keeps_the_text_but_not_the_pin(steps, port, qtbot):
    port.failure = REFUSED
    steps.form.rows[0].editor.setText("Ana")
    steps.form.rows[1].editor.setText("924716")
    steps.press_key("Return")
    qtbot.waitUntil(lambda: steps.refusal == str(REFUSED))
    assert steps.said == [], "the foot is for what happened"
    assert steps.form.values() == {"name": "Ana", "pin": ""}


def test_a_disabled_action_says_why(steps, port):
    assert steps.press_key("Ctrl+G")
    assert steps.refusal == "Stay: not yet"
    assert steps.said == []
    assert port.acted == []


def test_a_row_that_is_chosen_goes_back(steps, port):
    port.view = CHOOSE
    steps.poll.once()
    QApplication.processEvents()
    assert steps.window().focusWidget() is steps.rows
    QTest.keyClick(steps.rows, Qt.Key.Key_Up)
    steps.press_key("Return")
    assert port.acted == [("go", {"row": "a"})]
    assert not steps.form.isVisible()


def test_it_follows_the_moment_without_losing_what_is_typed(steps, port, qtbot):
    steps.form.rows[0].editor.setFocus()
    QTest.keyClicks(steps.form.rows[0].editor, "Ana")
    big = BigNumber("shows now", "12.3", "g", Tone.PLAIN)
    port.view = replace(ASK, big=big, lines=(("other words", Tone.GOOD),))
    qtbot.waitUntil(lambda: steps.primary_readout.big.shown == big)
    assert steps.form.values()["name"] == "Ana"


def test_bytes_give_way_to_a_number_where_room_is_short(steps, port, qtbot):
    port.view = replace(ASK, big=BigNumber("shows now", "12.3", "g", Tone.PLAIN))
    steps.poll.once()
    assert steps.raw.isVisible()
    steps.resize(1200, 500)
    assert not steps.raw.isVisible()
    steps.resize(1200, 700)
    assert steps.raw.isVisible()


def test_the_end_is_told(steps, port, qtbot):
    with qtbot.waitSignal(steps.ended):
        port.view = None


def test_trouble_is_told_once(steps, port):
    port.view = StationError("the steps cannot be read.")
    steps.poll.once()
    steps.poll.once()
    assert [m.text for m in steps.said] == ["the steps cannot be read."]


def test_it_rests_while_it_is_not_seen(steps):
    assert steps.poll.isActive()
    steps.hide()
    assert not steps.poll.isActive()


def test_tab_goes_from_the_list_through_the_fields_to_the_actions(steps, port):
    steps.window().activateWindow()
    port.view = replace(CHOOSE, step_id="port", fields=ASK.fields[:1])
    steps.poll.once()
    QApplication.processEvents()
    steps.rows.setFocus()
    address = steps.form.rows[0].editor
    for place in (address, steps.action_bar.buttons[0]):
        QTest.keyClick(steps.window().focusWidget(), Qt.Key.Key_Tab)
        assert steps.window().focusWidget() is place


def test_what_goes_on_without_a_word_takes_an_older_refusal_away(steps, port, qtbot):
    gone_on = []
    steps.went_on.connect(lambda: gone_on.append(1))
    port.failure = REFUSED
    QTest.keyClick(steps.form.rows[-1].editor, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: steps.refusal == str(REFUSED))
    gone_on.clear()
    port.failure, port.answer = None, ""
    QTest.keyClick(steps.form.rows[-1].editor, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: gone_on == [1])
    assert steps.refusal == ""
