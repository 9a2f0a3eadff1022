"""Closing the window asks first: under an alarm, under pressure, with a capture under way."""

from dataclasses import replace

import pytest

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell import closing
from benchstation.ui.shell.bridge import Message
from benchstation.ui.shell.closing import Closing
from tests.ui.fake_moments import pour

ALARM = "An alarm is open: high limit."
UNDER_ALARM = replace(pour(), watched=ALARM)
OPEN_POUR = "The weighing is not captured. The unit stays at this step. Begin it again."


@pytest.fixture
def asked():
    told, went = [], []
    return Closing(went.append, told.append), told, went


def test_nothing_is_asked_where_nothing_is_watched(asked):
    question, told, went = asked
    assert question.may_close(pour(), [("bench", ""), ("queue", "")])
    assert (told, went) == ([], [])


def test_under_an_alarm_it_is_asked_once(asked):
    question, told, _ = asked
    assert not question.may_close(UNDER_ALARM, [])
    (message,) = told
    assert message.text.startswith(ALARM)
    assert closing.NOBODY_WATCHES in message.text
    assert message.text.endswith(closing.ONCE_MORE)
    assert message.tone is Tone.DANGER
    assert question.may_close(UNDER_ALARM, [])


def test_who_comes_back_later_is_asked_again(asked, monkeypatch):
    question, told, _ = asked
    now = [100.0]
    monkeypatch.setattr(closing.time, "monotonic", lambda: now[0])
    assert not question.may_close(UNDER_ALARM, [])
    now[0] += closing.AGAIN_WITHIN_S + 1
    assert not question.may_close(UNDER_ALARM, [])
    assert len(told) == 2


def test_a_text_is_asked_for_after_the_watch(asked):
    question, told, went = asked
    unkept = [("specifications", "# late")]
    assert not question.may_close(UNDER_ALARM, unkept)
    assert not question.may_close(UNDER_ALARM, unkept)
    assert went == ["specifications"]
    assert question.may_close(UNDER_ALARM, unkept)
    assert len(told) == 2


def test_an_open_pour_is_asked_for_without_a_word_of_pressure(asked):
    question, told, _ = asked
    view = replace(pour(), unfinished=OPEN_POUR)
    assert not question.may_close(view, [])
    assert told == [Message(f"{OPEN_POUR} {closing.ONCE_MORE}", Tone.CAUTION)]
    assert question.may_close(view, [])


def test_pressure_and_a_capture_are_asked_for_at_once(asked):
    question, told, _ = asked
    view = replace(UNDER_ALARM, unfinished=OPEN_POUR)
    assert not question.may_close(view, [])
    assert ALARM in told[0].text
    assert OPEN_POUR in told[0].text
    assert question.may_close(view, [])


def test_the_end_of_the_session_is_never_held_up(asked):
    question, told, _ = asked
    question.end_session()
    view = replace(UNDER_ALARM, unfinished=OPEN_POUR)
    assert question.may_close(view, [("specifications", "# late")])
    assert told == []


def test_nothing_is_asked_before_the_first_view(asked):
    question, told, _ = asked
    assert question.may_close(None, [])
    assert told == []


def test_the_window_stays_open_until_it_is_meant(open_bench):
    bench = open_bench(replace(pour(), watched=ALARM))
    bench.window.close()
    assert bench.window.isVisible()
    assert bench.said.startswith(ALARM)
    bench.window.close()
    assert not bench.window.isVisible()


def test_escape_keeps_its_meaning_and_the_window_closes_when_the_session_ends(open_bench):
    bench = open_bench(replace(pour(), unfinished=OPEN_POUR))
    assert not bench.window.close()
    bench.key("Escape")
    assert bench.window.isVisible()
    assert OPEN_POUR not in bench.said
    bench.window.end_session()
    assert bench.window.close()
