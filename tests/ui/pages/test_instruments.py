"""Instruments: link in words, reading, raw frames as plain text, and actions with a reason."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt

from benchstation.driver_api.errors import StationError
from tests.ui.fake_moments import pour
from tests.ui.fake_station import REFUSED


@pytest.fixture
def instruments(open_bench):
    bench = open_bench(pour())
    bench.key("F6")
    bench.page = bench.window.made["instruments"]
    return bench


def test_both_stand_there_with_link_reading_and_frames(instruments):
    scale, gauge = instruments.page.instruments
    assert scale.title.text() == "Scale"
    assert scale.link.words.text().startswith("live on")
    assert scale.reading.shown.number == "187.4"
    assert "rejected" in scale.raw.text()
    assert gauge.link.mark.accessibleName() == "danger"
    assert "stale" in gauge.reading.accessibleDescription()


def test_frames_are_plain_text(instruments):
    scale = instruments.station.fitted[0]
    instruments.station.fitted = (replace(scale, raw_lines=("<b>ST</b>", "a&amp;b")),)
    instruments.page.poll.once()
    panel = instruments.page.instruments[0]
    assert panel.raw.text() == "<b>ST</b>\na&amp;b"
    assert panel.raw.textFormat() is Qt.TextFormat.PlainText
    assert not instruments.page.instruments[1].isVisible()


def test_it_follows_while_seen_and_rests_while_not(instruments, qtbot):
    scale = instruments.station.fitted[0]
    reading = replace(scale.reading, number="200.1")
    instruments.station.fitted = (replace(scale, reading=reading),)
    panel = instruments.page.instruments[0]
    qtbot.waitUntil(lambda: panel.reading.shown.number == "200.1", timeout=1500)
    instruments.key("F2")
    assert not instruments.page.poll.isActive()


def test_actions_by_key_go_to_their_instrument(instruments, qtbot):
    instruments.key("W")
    assert instruments.station.acted == [("check", {"instrument": "scale-02"})]
    qtbot.waitUntil(lambda: instruments.said == "check: done.", timeout=1000)


def test_a_reason_is_asked_and_sent(instruments):
    instruments.key("Ctrl+O")
    assert instruments.station.acted == []
    instruments.type("new certificate is on its way")
    instruments.key("Return")
    assert instruments.station.acted == [
        ("override", {"reason": "new certificate is on its way", "instrument": "gauge-01"})
    ]


def test_a_disabled_action_says_why(instruments):
    instruments.key("Shift+Z")
    assert instruments.said == "Zero check: there is no reading"


def test_a_failed_action_is_told(instruments, qtbot):
    instruments.station.failure = REFUSED
    instruments.key("Z")
    qtbot.waitUntil(lambda: instruments.said == str(REFUSED), timeout=1000)


def test_trouble_is_told_once_and_does_not_end_the_page(instruments, monkeypatch):
    calls = []

    def broken():
        calls.append(1)
        raise StationError("the registry cannot be read.")

    monkeypatch.setattr(instruments.station, "instruments", broken)
    told = []
    instruments.page.told.connect(told.append)
    for _ in range(3):
        instruments.page.poll.once()
    assert len(calls) == 3
    assert [m.text for m in told] == ["the registry cannot be read."]


def test_without_instruments_it_teaches(instruments):
    instruments.station.fitted = ()
    instruments.page.poll.once()
    assert instruments.page.empty.isVisible()
    assert "scale and a gauge" in instruments.page.empty.text()


def test_without_a_place_to_add_to_none_is_offered(instruments):
    assert [button.action.id for button in instruments.page.more.buttons] == [
        "calibrations",
        "settings",
    ]
    assert not instruments.page.press_key("Ctrl+N")


def test_the_units_of_an_instrument_are_shown_in_the_records(instruments, qtbot):
    instruments.key("Ctrl+R")
    assert instruments.window.page == "records"
    records = instruments.window.made["records"]
    assert records.search.text() == "scale-02"
    assert instruments.station.found[-1] == ("scale-02", "")
    qtbot.waitUntil(records.about.isVisible, timeout=1000)
    assert records.about.text().startswith("120 units rest on Scale")
    instruments.key("F6")
    instruments.key("Ctrl+D")
    assert instruments.station.found[-1] == ("scale-02 since the last good check", "")
    qtbot.waitUntil(lambda: records.about.text().startswith("3 units"), timeout=1000)
    assert instruments.station.acted == []


def test_what_is_said_of_an_instrument_goes_with_its_search(instruments, qtbot):
    instruments.key("Ctrl+R")
    records = instruments.window.made["records"]
    qtbot.waitUntil(records.about.isVisible, timeout=1000)
    records.search_for("MR-2225")
    qtbot.waitUntil(lambda: not records.about.isVisible(), timeout=1000)
