import os
import time
from datetime import UTC, datetime

import pytest

from benchstation.screens.records.period import period_in


@pytest.fixture(autouse=True)
def an_hour_ahead():
    before = os.environ.get("TZ")
    os.environ["TZ"] = "Test-1"
    time.tzset()
    yield
    os.environ.pop("TZ") if before is None else os.environ.update(TZ=before)
    time.tzset()


@pytest.mark.parametrize(
    ("words", "first", "end"),
    [
        ("2026-11-03", (2026, 11, 2), (2026, 11, 3)),
        (" 2026-11 ", (2026, 10, 31), (2026, 11, 30)),
        ("2026-12", (2026, 11, 30), (2026, 12, 31)),
        ("2026", (2025, 12, 31), (2026, 12, 31)),
        ("2026-11-03 TO 2026-11-05", (2026, 11, 2), (2026, 11, 5)),
        ("2025-12 to 2026-01", (2025, 11, 30), (2026, 1, 31)),
    ],
)
def test_a_time_is_meant_by_the_clock_on_the_wall(words, first, end):
    assert period_in(words) == (datetime(*first, 23, tzinfo=UTC), datetime(*end, 23, tzinfo=UTC))


@pytest.mark.parametrize(
    "words", ["", "MR-2026", "2026-13", "2026-02-30", "2026-11-05 to 2026-11-03", "20261", "9999"]
)
def test_what_is_no_time(words):
    assert period_in(words) is None
