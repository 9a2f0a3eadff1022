"""Actions: by key and by click, refused in words, and with a reason asked in place."""

import random
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from benchstation.screens.model.elements import ActionView
from benchstation.ui.widgets.readout.actions import PRIMARY, SAME_FINGER_S, Actions, Meanings

TARE = ActionView("tare", "Tare", "T")
CAPTURE = ActionView("capture", "Capture", "Space", primary=True)
LOCKED = replace(CAPTURE, enabled=False, why_not="the scale is moving")
BACK = ActionView("back", "Back one step", "Ctrl+B", needs_reason=True)


class Bar(Actions):
    """Actions that keep what they were asked for."""

    def __init__(self, **options) -> None:
        super().__init__(**options)
        self.done, self.said, self.asked = [], [], []
        self.chosen.connect(lambda action, given: self.done.append((action, given)))
        self.refused.connect(self.said.append)
        self.wants_reason.connect(self.asked.append)


@pytest.fixture
def bar(shown):
    made = shown(Bar(), size=(700, 200))
    made.show_actions((TARE, BACK, CAPTURE))
    return made


def enter(bar, text="") -> None:
    QTest.keyClicks(bar.question.reason, text)
    QTest.keyClick(bar.question.reason, Qt.Key.Key_Return)


def test_by_key(bar):
    assert bar.press_key("T")
    assert bar.press_key("Space")
    assert not bar.press_key("Q")
    assert bar.done == [("tare", {}), ("capture", {})]


def test_by_click(bar):
    QTest.mouseClick(bar.buttons[0], Qt.MouseButton.LeftButton)
    assert bar.done == [("tare", {})]


def test_the_primary_one(bar):
    bar.press_primary()
    assert bar.done == [("capture", {})]


def test_an_action_may_ask_for_other_words_than_a_reason(bar):
    bar.show_actions((TARE, replace(BACK, label="Hand over", asks="a note to the next person?")))
    bar.press_key("Ctrl+B")
    assert bar.question.words.text() == "Hand over: a note to the next person?"
    enter(bar)
    assert bar.question.words.text() == "Hand over: a note to the next person?"
    enter(bar, "poured, not captured")
    assert bar.done == [("back", {"reason": "poured, not captured"})]


def test_a_disabled_action_is_refused_in_words(bar):
    bar.show_actions((TARE, LOCKED))
    assert bar.press_key("Space")
    assert bar.done == []
    assert bar.said == ["Capture: the scale is moving"]
    bar.show_actions((replace(LOCKED, why_not=""),))
    bar.press_primary()
    assert bar.said[-1] == "Capture: not possible now"


def test_a_reason_is_asked_in_place_and_sent(bar):
    bar.press_key("Ctrl+B")
    assert bar.done == []
    assert bar.question.isVisible()
    assert not bar.bar.isVisible()
    assert bar.window().focusWidget() is bar.question.reason
    enter(bar, " wrong kit ")
    assert bar.done == [("back", {"reason": "wrong kit"})]
    assert not bar.question.isVisible()
    assert bar.bar.isVisible()


def test_a_pin_is_asked_after_the_reason_and_neither_is_left_out(bar):
    bar.show_actions((TARE, replace(BACK, needs_pin=True)))
    bar.press_key("Ctrl+B")
    question = bar.question
    assert question.words.text().endswith("why? A few words on record, then your PIN.")
    enter(bar, "wrong kit")
    assert bar.window().focusWidget() is question.pin
    assert bar.done == []
    assert question.pin.echoMode() is QLineEdit.EchoMode.Password
    QTest.keyClicks(question.pin, "271828")
    QTest.keyClick(question.pin, Qt.Key.Key_Return)
    assert bar.done == [("back", {"reason": "wrong kit", "signature": "271828"})]
    assert question.pin.text() == ""
    bar.press_key("Ctrl+B")
    assert question.pin.text() == ""


@pytest.fixture
def signed(bar):
    """A reason and a PIN were sent for an action."""
    bar.show_actions((TARE, replace(BACK, needs_pin=True)))
    bar.press_key("Ctrl+B")
    enter(bar, "wrong kit")
    QTest.keyClicks(bar.question.pin, "271829")
    QTest.keyClick(bar.question.pin, Qt.Key.Key_Return)
    assert len(bar.done) == 1
    return bar


def test_a_refused_pin_is_asked_once_more_and_the_reason_stays(signed):
    question = signed.question
    signed.ask_again("signature")
    assert question.isVisible()
    assert (question.reason.text(), question.pin.text()) == ("wrong kit", "")
    assert signed.window().focusWidget() is question.pin
    QTest.keyClicks(question.pin, "271828")
    QTest.keyClick(question.pin, Qt.Key.Key_Return)
    assert signed.done[-1] == ("back", {"reason": "wrong kit", "signature": "271828"})
    signed.ask_again("reason")
    assert signed.window().focusWidget() is question.reason
    signed.press_key("Esc")
    signed.ask_again("signature")
    assert not question.isVisible(), "it was left"


@pytest.mark.parametrize(
    ("by_now", "field"),
    [
        (lambda bar: None, "customer"),
        (lambda bar: bar.show_actions((TARE, CAPTURE)), "signature"),
        (lambda bar: bar.stop_asking(), "signature"),
        (lambda bar: (bar.hide(), bar.show()), "signature"),
    ],
    ids=["another field", "other actions", "another person", "another page"],
)
def test_nothing_is_asked_once_more_where_it_would_be_another_answer(signed, by_now, field):
    by_now(signed)
    signed.ask_again(field)
    assert not signed.question.isVisible()


def test_a_pin_alone_is_one_field_and_enter(bar):
    bar.show_actions((TARE, replace(BACK, needs_reason=False, needs_pin=True)))
    bar.press_key("Ctrl+B")
    assert bar.question.words.text() == "Back one step: your PIN signs it."
    assert not bar.question.reason.isVisible()
    QTest.keyClick(bar.question.pin, Qt.Key.Key_Return)
    assert bar.done == []
    QTest.keyClicks(bar.question.pin, "271828")
    QTest.keyClick(bar.question.pin, Qt.Key.Key_Return)
    assert bar.done == [("back", {"signature": "271828"})]
    bar.show_actions((TARE, BACK))
    bar.press_key("Ctrl+B")
    assert not bar.question.pin.isVisible()


def test_without_words_it_asks_again(bar):
    bar.press_key("Ctrl+B")
    enter(bar, "  ")
    assert bar.done == []
    assert "say why first" in bar.question.words.text()


def test_esc_leaves_the_question_and_does_nothing(bar):
    bar.press_key("Ctrl+B")
    QTest.keyClicks(bar.question.reason, "wrong")
    QTest.keyClick(bar.question.reason, Qt.Key.Key_Escape)
    assert not bar.question.isVisible()
    assert bar.done == []
    bar.press_key("Ctrl+B")
    assert bar.question.reason.text() == ""


def test_buttons_of_the_question(bar):
    bar.press_key("Ctrl+B")
    QTest.keyClicks(bar.question.reason, "x")
    QTest.mouseClick(bar.question.send, Qt.MouseButton.LeftButton)
    assert bar.done == [("back", {"reason": "x"})]
    bar.press_key("Ctrl+B")
    QTest.mouseClick(bar.question.leave, Qt.MouseButton.LeftButton)
    assert not bar.question.isVisible()


def test_while_it_asks_no_other_key_acts(bar):
    bar.press_key("Ctrl+B")
    assert bar.press_key("Space")
    assert bar.done == []
    assert bar.press_key("Esc")
    assert not bar.question.isVisible()


def test_the_question_goes_when_its_action_does(bar):
    bar.press_key("Ctrl+B")
    bar.show_actions((TARE, CAPTURE))
    assert not bar.question.isVisible()


def test_someone_elses_question_stays_while_the_actions_change(bar):
    bar.ask(ActionView("abandon", "Abandon unit", "Ctrl+Delete", needs_reason=True))
    bar.show_actions((TARE, LOCKED))
    assert bar.question.isVisible()
    enter(bar, "not ours")
    assert bar.done == [("abandon", {"reason": "not ours"})]


def test_a_bar_that_does_not_ask_hands_it_on(shown):
    bar = shown(Bar(asks=False))
    bar.show_actions((BACK,))
    bar.press_key("Ctrl+B")
    assert bar.asked == [BACK]
    assert not bar.question.isVisible()


def test_rows_break_where_there_is_no_room(shown):
    bar = shown(Bar(), size=(700, 400))
    bar.show_actions(tuple(replace(TARE, id=str(k)) for k in range(6)))
    QApplication.processEvents()
    tops = [b.y() for b in bar.buttons]
    assert len(set(tops)) == 2
    assert tops.count(tops[0]) == 3
    bar.resize(1600, 400)
    QApplication.processEvents()
    assert len({b.y() for b in bar.buttons}) == 1


def test_fewer_actions_leave_no_dead_button(bar):
    bar.show_actions((TARE,))
    assert [b.isVisible() for b in bar.buttons] == [True, False, False]
    bar.show_actions((TARE, BACK, CAPTURE))
    assert all(b.isVisible() for b in bar.buttons)


def test_buttons_of_a_row_are_equally_high(bar):
    bar.show_actions((TARE, replace(LOCKED, why_not="words " * 30)))
    bar.resize(700, 300)
    QApplication.processEvents()
    assert bar.buttons[0].height() == bar.buttons[1].height()


def test_no_button_moves_when_another_becomes_primary(bar):
    QApplication.processEvents()
    before = [b.geometry() for b in bar.buttons]
    assert len({box.width() for box in before}) <= 2
    bar.show_actions((replace(TARE, primary=True), BACK, replace(CAPTURE, primary=False)))
    QApplication.processEvents()
    assert [b.geometry() for b in bar.buttons] == before


def test_the_height_is_known_before_it_is_laid_out(bar):
    QApplication.processEvents()
    assert bar.height_for(bar.width()) == bar.bar.sizeHint().height()
    bar.press_key("Ctrl+B")
    QApplication.processEvents()
    assert abs(bar.height_for(bar.width()) - bar.question.sizeHint().height()) <= 12


def test_a_place_whose_action_changed_does_nothing_for_a_second(shown, monkeypatch):
    bar = shown(Bar(settle_s=SAME_FINGER_S), size=(700, 200))
    now = [100.0]
    monkeypatch.setattr("benchstation.ui.widgets.readout.actions.time.monotonic", lambda: now[0])
    hold, end = ActionView("hold", "Hold test", "H"), ActionView("cancel", "End hold test", "X")
    bar.show_actions((hold,))
    now[0] += 2.0
    QTest.mouseClick(bar.buttons[0], Qt.MouseButton.LeftButton)
    bar.show_actions((end,))
    now[0] += 0.5
    QTest.mouseClick(bar.buttons[0], Qt.MouseButton.LeftButton)
    assert bar.done == [("hold", {})]
    now[0] += 0.6
    QTest.mouseClick(bar.buttons[0], Qt.MouseButton.LeftButton)
    assert bar.done == [("hold", {}), ("cancel", {})]


def test_a_key_and_the_pedal_do_nothing_for_a_second_after_they_did_another(shown, monkeypatch):
    bar = shown(Bar(settle_s=SAME_FINGER_S), size=(700, 200))
    now = [100.0]
    monkeypatch.setattr("benchstation.ui.widgets.readout.actions.time.monotonic", lambda: now[0])
    sign = ActionView("sign", "Sign this step", "Return", primary=True)
    file = ActionView("file", "File", "Return", primary=True)
    bar.show_actions((sign,))
    now[0] += 2.0
    assert bar.press_key("Return")
    bar.show_actions(())
    now[0] += 0.2
    bar.show_actions((file,))
    now[0] += 0.5
    assert bar.press_key("Return"), "it is this bar's key, and nothing else's"
    bar.step_on_pedal()
    assert bar.done == [("sign", {})]
    now[0] += 0.6
    bar.press_key("Return")
    assert bar.done == [("sign", {}), ("file", {})]


@pytest.mark.parametrize("seed", range(20))
def test_nothing_changes_its_meaning_in_place_within_a_second(seed):
    """Whatever is shown in whatever order: what is done is what stood there a second ago too."""
    chance = random.Random(seed)
    ids, keys = ("tare", "capture", "hold", "cancel", "sign", "file"), ("Return", "Space", "X", "T")
    meanings, at, history = Meanings(SAME_FINGER_S), 0.0, {}
    for _ in range(400):
        at += chance.choice((0.01, 0.2, 0.6, 1.5))
        taken = chance.sample(ids, chance.randint(0, 4))
        places = zip(taken, chance.sample(keys, len(taken)), strict=True)
        actions = tuple(
            ActionView(name, name, key, primary=n == 0) for n, (name, key) in enumerate(places)
        )
        meanings.show(actions, at)
        shown_now = {place: action.id for place, action in enumerate(actions)}
        shown_now |= {action.key.casefold(): action.id for action in actions}
        shown_now |= {PRIMARY: actions[0].id} if actions else {}
        for slot in {*history, *shown_now}:
            history.setdefault(slot, []).append((at, shown_now.get(slot)))
        pressed_at = at + chance.choice((0.0, 0.3, 0.9, 1.1))
        for slot, meant in shown_now.items():
            seen = history[slot]
            # Each stood from its moment to the next one's.
            ends = [*(later for later, _ in seen[1:]), pressed_at]
            recent = {
                name
                for (_, name), end in zip(seen, ends, strict=True)
                if name is not None and end > pressed_at - SAME_FINGER_S
            }
            if recent - {meant}:
                assert not meanings.holds(slot, pressed_at), (slot, recent)
            if all(name == meant for _, name in seen):
                assert meanings.holds(slot, pressed_at)
        at = pressed_at
