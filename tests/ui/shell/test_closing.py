"""Closing the window ends the watch: under an alarm or under pressure it asks first."""

from dataclasses import replace

import pytest

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell import closing
from benchstation.ui.shell.closing import Closing
from tests.ui.fake_moments import pour

ALARM = "An alarm is open: high limit."


@pytest.fixture
def asked():
    told, went = [], []
    return Closing(went.append, told.append), told, went


def test_nothing_is_asked_where_nothing_is_watched(asked):
    question, told, went = asked
    assert question.may_close("", [("bench", ""), ("queue", "")])
    assert (told, went) == ([], [])


def test_under_an_alarm_it_is_asked_once(asked):
    question, told, _ = asked
    assert not question.may_close(ALARM, [])
    (message,) = told
    assert message.text.startswith(ALARM)
    assert "close the window once more" in message.text
    assert message.tone is Tone.DANGER
    assert question.may_close(ALARM, [])


def test_who_comes_back_later_is_asked_again(asked, monkeypatch):
    question, told, _ = asked
    now = [100.0]
    monkeypatch.setattr(closing.time, "monotonic", lambda: now[0])
    assert not question.may_close(ALARM, [])
    now[0] += closing.AGAIN_WITHIN_S + 1
    assert not question.may_close(ALARM, [])
    assert len(told) == 2


def test_a_text_is_asked_for_after_the_watch(asked):
    question, told, went = asked
    unkept = [("specifications", "# late")]
    assert not question.may_close(ALARM, unkept)
    assert not question.may_close(ALARM, unkept)
    assert went == ["specifications"]
    assert question.may_close(ALARM, unkept)
    assert len(told) == 2


def test_the_window_stays_open_until_it_is_meant(open_bench):
    bench = open_bench(replace(pour(), watched=ALARM))
    bench.window.close()
    assert bench.window.isVisible()
    assert bench.said.startswith(ALARM)
    bench.window.close()
    assert not bench.window.isVisible()
