"""Questions: one under way, the newest waits, and an answer about something else is dropped."""

import pytest

from benchstation.driver_api.errors import StationError
from benchstation.ui.shell.bridge import Bridge
from benchstation.ui.shell.latest import Latest, Question
from tests.ui.fake_moments import pour
from tests.ui.fake_specifications import source
from tests.ui.fake_station import REFUSED, FakeStation


@pytest.fixture
def asked(qapp):
    station = FakeStation(pour())
    station.later = True
    bridge = Bridge(station)
    made = Latest(
        bridge,
        lambda question, detail: made.answers.append((question, detail)),
        lambda message: made.failures.append(message.text),
    )
    made.answers, made.failures, made.station = [], [], station

    def settle() -> None:
        station.settle()
        qapp.processEvents()

    made.settle = settle
    yield made
    bridge.close()
    bridge.deleteLater()


def a_text(volume: float, travel: float = 0.0) -> Question:
    return Question("", source(3, volume), travel, "reference")


def test_only_the_last_text_is_answered(asked):
    for volume in (262, 263, 264, 265):
        asked.ask(a_text(volume))
    assert [text for text, _, _ in asked.station.checked] == [source(3, 262)]
    asked.settle()
    assert asked.answers == []
    assert [text for text, _, _ in asked.station.checked] == [source(3, 262), source(3, 265)]
    asked.settle()
    ((question, detail),) = asked.answers
    assert question == a_text(265)
    assert detail.source == source(3, 265)
    asked.settle()
    assert len(asked.answers) == 1


def test_a_moving_rod_is_shown_on_its_way(asked):
    for travel in (0.1, 0.2, 0.3):
        asked.ask(Question("k2", "", travel, "hot"))
    asked.settle()
    asked.settle()
    assert asked.station.opened == [("k2", 0.1, "hot"), ("k2", 0.3, "hot")]
    assert [question.travel for question, _ in asked.answers] == [0.1, 0.3]


def test_opening_another_drops_the_one_before(asked):
    asked.ask(Question("k1", "", 0.0, "reference"))
    asked.ask(Question("k2", "", 0.0, "reference"))
    asked.settle()
    asked.settle()
    assert [detail.row.key for _, detail in asked.answers] == ["k2"]


def test_a_failure_is_told_and_the_next_question_asked(asked):
    asked.station.failure = REFUSED
    asked.ask(a_text(262))
    asked.settle()
    assert asked.failures == [str(REFUSED)]
    asked.station.failure = None
    asked.ask(a_text(263))
    asked.settle()
    assert len(asked.answers) == 1


def test_a_failure_about_something_else_is_not_told(asked):
    asked.station.failure = REFUSED
    asked.ask(a_text(262))
    asked.ask(a_text(263))
    asked.settle()
    assert asked.failures == []


def test_forgotten_questions_are_not_answered(asked):
    asked.ask(a_text(262))
    asked.forget()
    asked.settle()
    assert asked.answers == []


def test_a_station_that_refuses_at_once_does_not_block_the_next(asked, monkeypatch):
    def refuse(*_: object) -> None:
        raise StationError("not now.")

    monkeypatch.setattr(asked.station, "check_specification", refuse)
    asked.ask(a_text(262))
    asked.ask(a_text(263))
    assert asked.failures == ["not now.", "not now."]
