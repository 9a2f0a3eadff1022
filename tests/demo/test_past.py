"""The past that is made beside the demonstration, and what was done meanwhile."""

import sys
from datetime import UTC, date, datetime, timedelta

import pytest

from benchstation.demo import history, past
from benchstation.demo import shop as demo
from benchstation.demo.past import PastInMaking, carry_over
from benchstation.domain.events import UnitFiled
from benchstation.store.engine import open_store
from tests.waiting import eventually

TODAY = date(2026, 3, 3)
LINES = "import sys\nfor n in range(int(sys.argv[1])): print(n, flush=True)\n"


def child(program: str, *given: str) -> list[str]:
    return [sys.executable, "-c", program, *given]


@pytest.fixture
def cache(monkeypatch, tmp_path):
    folder = tmp_path / "cache" / "demonstration"
    folder.mkdir(parents=True)
    monkeypatch.setattr(
        history.platformdirs, "user_cache_path", lambda *_, **__: tmp_path / "cache"
    )
    return folder


def test_it_is_ready_when_the_file_is_there(cache):
    making = PastInMaking(TODAY, 3, child(LINES, "3"))
    assert making.view().words == "Making the shop's past: 0 of 3 units"
    (cache / f"{history._name(3)}-2026-03-03.sqlite").touch()
    making.start()
    eventually(lambda: making.view().ready)
    assert making.file is not None
    making.close()


@pytest.mark.parametrize("program", [LINES, "raise SystemExit(2)"])
def test_an_end_without_a_file_is_said(cache, program):
    making = PastInMaking(TODAY, 3, child(program, "2"))
    making.start()
    eventually(lambda: "could not be made" in making.view().words)
    assert not making.view().ready
    making.close()


def test_it_ends_with_the_window(cache):
    making = PastInMaking(TODAY, 3, child("import time\ntime.sleep(60)"))
    making.start()
    making.close()
    assert not making.view().ready


def test_it_is_this_program_that_makes_it():
    assert past.making_command(7)[1:] == ["-m", "benchstation", "demo", "--past", "7"]


def test_what_was_done_meanwhile_follows_the_past(tmp_path):
    began = history.founded_at(TODAY, 1)
    with (
        open_store(tmp_path / "first.sqlite", demo.BENCH) as first,
        open_store(tmp_path / "past.sqlite", demo.BENCH) as whole,
    ):
        for store in (first, whole):
            demo.found(store, began)
        founded, _ = first.head()
        morning = datetime(2026, 3, 3, 7, tzinfo=UTC) + timedelta(days=1)
        history.work_past(first, demo.demo_shop(first), range(5, 6), morning)
        carry_over(first, whole, founded)
        kept = [(e.kind, e.utc, e.person, e.event) for e in first.entries()]
        over = [(e.kind, e.utc, e.person, e.event) for e in whole.entries()]
        assert over[founded:] == kept[founded:]
        assert len(over) > founded
        (filed,) = whole.entries(kind=UnitFiled.kind)
        for entry in whole.entries(unit_id=filed.event.unit_id):
            if trace := getattr(entry.event, "trace_sha256", ""):
                assert whole.get_trace(trace).encoded == first.get_trace(trace).encoded
        assert whole.verify().ok
