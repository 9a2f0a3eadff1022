"""The window looks as the person likes it, and keeps what the person turns."""

from dataclasses import replace

import pytest

from benchstation.domain.people import DisplayPreferences
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.sound import Choice
from benchstation.ui.shell.theme import DARK, LIGHT
from tests.ui.fake_moments import pour
from tests.ui.fake_station import REFUSED


def there(who: str, liked: DisplayPreferences | None):
    return replace(pour(), who=who, preferences=liked)


@pytest.fixture
def bench(open_bench):
    made = open_bench(there("", None))
    made.window.sounder.available = True
    return made


def test_it_is_taken_on_at_sign_in_and_gives_way_to_the_benchs_own(bench):
    window = bench.window
    bench.show(there("a", DisplayPreferences("", "light", 0, False)))
    assert window.theme is LIGHT
    assert window.sounder.choice is Choice.ALARMS
    bench.show(there("b", DisplayPreferences()))
    assert window.theme is DARK
    assert window.sounder.choice is Choice.ALL
    assert bench.station.acted == []


def test_signing_out_changes_nothing(bench):
    bench.show(there("a", DisplayPreferences("", "light")))
    bench.show(there("", None))
    assert bench.window.theme is LIGHT


def test_what_a_key_turns_is_kept_and_only_that(bench):
    bench.show(there("a", DisplayPreferences()))
    bench.key("F9")
    bench.window.bridge.refresh()
    assert bench.station.acted == [("prefer", {"theme": "light"})]
    bench.show(there("a", DisplayPreferences("", "light")))
    bench.key("F8")
    bench.window.bridge.refresh()
    assert bench.station.acted[1:] == [("prefer", {"pour_tone": "off"})]


def test_with_nobody_there_nothing_is_kept(bench):
    bench.key("F9")
    bench.window.bridge.refresh()
    assert bench.window.theme is LIGHT
    assert bench.station.acted == []


def test_what_cannot_be_kept_is_told_once_and_stays_turned(bench):
    bench.show(there("a", DisplayPreferences()))
    bench.station.failure = REFUSED
    bench.key("F9")
    for _ in range(5):
        bench.show(bench.station.current)
    assert len(bench.station.acted) == 1
    assert bench.window.theme is LIGHT
    assert bench.said == str(REFUSED)


def test_a_change_made_on_the_page_is_taken_on_at_once(bench):
    bench.show(there("a", DisplayPreferences()))
    bench.show(there("a", DisplayPreferences("", "light")))
    assert bench.window.theme is LIGHT
    assert bench.station.acted == []


def test_a_quick_second_turn_is_kept_too(bench):
    bench.show(there("a", DisplayPreferences()))
    bench.station.later = True
    bench.key("F9")
    bench.window.bridge.refresh()
    bench.key("F9")
    bench.window.bridge.refresh()
    assert len(bench.station.acted) == 1, "one at a time"
    bench.station.current = there("a", DisplayPreferences("", "light"))
    bench.window.bridge.refresh()
    bench.station.settle()
    bench.window.bridge.refresh()
    bench.show(bench.station.current)
    assert bench.station.acted[1:] == [("prefer", {"theme": "dark"})]


def test_who_comes_while_something_is_kept_gets_their_own_and_nothing_of_the_other(bench):
    bench.show(there("a", DisplayPreferences()))
    bench.station.later = True
    bench.key("F9")
    bench.window.bridge.refresh()
    bench.station.current = there("b", DisplayPreferences())
    bench.window.bridge.refresh()
    bench.station.settle()
    bench.show(bench.station.current)
    bench.show(bench.station.current)
    assert len(bench.station.acted) == 1
    assert bench.window.theme is DARK


def test_the_text_size_goes_with_the_person_and_its_keys_are_kept(bench):
    bench.show(there("a", DisplayPreferences(text_scale=130)))
    assert text_scale.percent() == 130
    bench.station.later = True
    bench.key("Ctrl++")
    bench.show(bench.station.current)
    assert bench.station.acted == [("prefer", {"text_scale": "150"})]
    bench.station.current = there("a", DisplayPreferences(text_scale=150))
    bench.station.settle()
    bench.show(bench.station.current)
    bench.show(there("b", DisplayPreferences()))
    assert text_scale.percent() == 100
