"""Since when, as people type it."""

import time
from datetime import UTC, datetime, timedelta

import pytest

from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.since import read_since
from tests.zones import VIENNA, needs_zones
from tests.zones import zone as in_zone

NOW = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)


@pytest.fixture(params=["UTC", "Europe/Vienna", "America/New_York"])
def zone(request, monkeypatch):
    monkeypatch.setenv("TZ", request.param)
    time.tzset()
    yield request.param
    monkeypatch.undo()
    time.tzset()


def test_a_time_of_day_is_the_last_such_time(zone):
    for hour in range(24):
        found = read_since(f"{hour:02d}:10", NOW)
        local = found.astimezone()
        assert (local.hour, local.minute) == (hour, 10)
        assert timedelta() <= NOW - found < timedelta(days=1)


def test_yesterday_a_date_and_a_duration(zone):
    yesterday = read_since("yesterday 16:00", NOW).astimezone()
    today = NOW.astimezone()
    assert (yesterday.hour, yesterday.date()) == (16, today.date() - timedelta(days=1))
    dated = read_since("2026-05-01 07:30", NOW).astimezone()
    assert (dated.day, dated.hour, dated.minute) == (1, 7, 30)
    assert read_since(" 3 h ", NOW) == NOW - timedelta(hours=3)
    assert read_since("90 min", NOW) == NOW - timedelta(minutes=90)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no time"),
        ("soon", "no time"),
        ("25:10", "no time"),
        ("2026-02-31 08:00", "no time"),
        ("8", "no time"),
        ("20 bar", "no time"),
        ("-3 h", "cannot be right"),
        ("2026-05-06 08:00", "lies ahead"),
        ("2024-05-06 08:00", "400 days"),
        ("1e9 h", "cannot be right"),
    ],
)
def test_what_is_no_such_time_is_refused_in_words(text, words):
    with pytest.raises(NotAllowedError, match=words):
        read_since(text, NOW)


@needs_zones
@pytest.mark.parametrize(
    ("now", "typed", "utc"),
    [
        # Summer time ends at 01:00 UTC: the wall shows 02:30 twice.
        ((10, 25, 0, 40), "02:30", (10, 25, 0, 30)),
        ((10, 25, 1, 10), "02:30", (10, 25, 0, 30)),
        ((10, 25, 1, 40), "02:30", (10, 25, 1, 30)),
        ((10, 25, 1, 40), "01:30", (10, 24, 23, 30)),
        ((10, 26, 8, 0), "yesterday 02:30", (10, 25, 1, 30)),
        ((10, 25, 8, 0), "yesterday 16:00", (10, 24, 14, 0)),
        # It begins at 01:00 UTC: the wall goes on from 02:00 to 03:00.
        ((3, 29, 1, 10), "01:50", (3, 29, 0, 50)),
        ((3, 29, 6, 0), "yesterday 16:00", (3, 28, 15, 0)),
        ((3, 29, 6, 0), "7 h", (3, 28, 23, 0)),
    ],
)
def test_where_summer_time_begins_or_ends(now, typed, utc):
    with in_zone(VIENNA):
        assert read_since(typed, at(now)) == at(utc)


def at(parts):
    return datetime(2026, *parts, tzinfo=UTC)
