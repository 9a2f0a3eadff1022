"""Eight hours at the window, in bench time, leave nothing behind; short forms and a soak.

Two devices send at 100 Hz all the while. ``pytest -m soak -s tests/long_life`` prints the counts.
"""

import gc
import os
from collections.abc import Callable
from statistics import fmean

import pytest

from tests.long_life.counting import Counted, counted
from tests.long_life.day import EVERY_PAGE, FAMILIES, Day

HOURS_S = 8 * 3600.0
REST_S = 300.0
"""Nobody does anything for so long after each unit; with the unit and all around it 8 minutes."""
PAST = 55
"""As many units are filed before: the pages list no more of them than these."""
SHARE = 0.02
WARM_ROUNDS = 10
"""Until then pages, forms and alarms are shown for the first time, with all they load."""
FLAT: dict[str, Callable[[Counted], int]] = {
    "memory": lambda one: one.rss_kb,
    "Python objects": lambda one: one.objects,
    # Lines under each other keep as many widgets as they ever showed at once.
    "objects of Qt": lambda one: one.qt.total(),
    "connections": lambda one: one.connections,
}


@pytest.fixture
def day(qapp, tmp_path):
    """Open a bench and its window; they are closed at the end. Garbage is collected here alone."""
    opened = []

    def open_it(past: int) -> Day:
        opened.append(Day(tmp_path, past=past))
        return opened[-1]

    gc.collect()
    gc.disable()
    yield open_it
    for one in opened:
        one.close()
    gc.collect()
    gc.enable()


@pytest.fixture(autouse=True)
def a_player(monkeypatch, tmp_path):
    """Sound the alarm by a program of this machine that makes no noise."""
    player = "/bin/true" if os.path.exists("/bin/true") else None
    monkeypatch.setattr("benchstation.ui.shell.sound.find_player", lambda: player)


def test_pages_leave_nothing_of_what_they_showed(day):
    here = day(past=1)
    here.go_round()
    first, before = counted(here.window), here.changes
    here.go_round()
    assert here.changes > before + len(EVERY_PAGE)
    assert counted(here.window).more_than(first) == {}


def test_alarms_and_other_looks_leave_nothing(day):
    here = day(past=0)

    def trouble() -> Counted:
        here.sign_in()
        here.pull_plugs()
        here.exceed_limit()
        here.other_looks()
        return counted(here.window)

    first = trouble()
    assert trouble().more_than(first) == {}
    assert here.alarms == 4


@pytest.mark.soak
@pytest.mark.timeout(7200)
def test_eight_hours_leave_nothing(day):
    here, seen = day(past=PAST), []
    began = here.now
    while here.now - began < HOURS_S:
        seen.append(here.round(REST_S))
        print(f"{(here.now - began) / 3600:.2f} h, {here.units} units, {seen[-1].words}")
    steady = seen[WARM_ROUNDS:]
    third = len(steady) // 3
    first, last = steady[:third], steady[-third:]
    for what, of in FLAT.items():
        before, after = (fmean(map(of, part)) for part in (first, last))
        assert after <= before * (1.0 + SHARE), f"{what}: {before:.0f}, then {after:.0f}"
    assert last[-1].timers <= max(one.timers for one in first)
    # The same family was the last to be worked on and opened, so as much is read.
    alike = next(
        one for one in reversed(first) if (len(seen) - 1 - seen.index(one)) % len(FAMILIES) == 0
    )
    assert last[-1].more_than(alike).keys() <= {"qt", "connections"}
    assert here.bench.store.verify().ok
