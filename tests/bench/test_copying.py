import shutil
from datetime import UTC, datetime, timedelta

import pytest

from benchstation.bench import copying
from benchstation.bench.copying import CopyKeeper, CopyStanding
from benchstation.bench.day_start import BACKUP, LineState
from benchstation.domain.events import PersonPrefers
from benchstation.store.backup import copies_in
from benchstation.store.copies import Copy
from benchstation.store.engine import open_store
from benchstation.store.trust import trust_at
from tests.stepped_bench import make_bench
from tests.waiting import eventually

NOW = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)


def test_the_window_says_no_copy_an_old_one_and_a_failed_one():
    day = Copy(None, NOW)
    assert CopyStanding().note(NOW) == "There is no copy of the records yet."
    assert CopyStanding(day, drilled=True).note(NOW + timedelta(hours=23)) == ""
    assert "The newest copy of the records is of" in CopyStanding(day).note(
        NOW + timedelta(hours=25)
    )
    assert "failed: the disk is full" in CopyStanding(day, "the disk is full").note(NOW)


def test_only_a_drilled_copy_of_today_is_evidence():
    day = Copy(None, NOW)
    assert CopyStanding(day, drilled=True).made_today(NOW)
    assert not CopyStanding(day, drilled=False).made_today(NOW)
    assert not CopyStanding(day, drilled=True).made_today(NOW + timedelta(days=1))
    assert not CopyStanding().made_today(NOW)


@pytest.fixture
def keeper(tmp_path):
    with open_store(tmp_path / "r.sqlite", "bench-1", trust=trust_at(tmp_path / "home")) as store:
        kept = CopyKeeper(store, [tmp_path / "copies"], lambda: NOW)
        yield kept
        kept.close()


def test_it_copies_at_the_start_and_when_a_head_is_signed(keeper, tmp_path):
    moments = iter(NOW + timedelta(minutes=n) for n in range(9))
    keeper._utc = lambda: next(moments)
    keeper.start()
    eventually(lambda: keeper.standing.drilled, 5.0)
    keeper.wake()
    eventually(lambda: len(copies_in(tmp_path / "copies")) == 2, 5.0)
    assert keeper.standing.note(NOW) == ""


def test_a_second_place_that_is_gone_is_said_and_stops_nothing(keeper, tmp_path):
    assert keeper.copy_now().drilled
    for file in (tmp_path / "copies").iterdir():
        file.unlink()
    (tmp_path / "copies").rmdir()
    (tmp_path / "copies").write_bytes(b"a file where the disk was")
    assert "folder cannot be used" in keeper.copy_now().note(NOW)


def test_a_copy_goes_to_each_place_with_the_settings_and_the_worst_place_is_told(keeper, tmp_path):
    settings = tmp_path / "settings.json"
    settings.write_text("{}")
    keeper._folders = [tmp_path / "copies", tmp_path / "other"]
    keeper._beside = lambda: {"settings.json": settings}
    assert keeper.copy_now().problem == ""
    for folder in keeper._folders:
        (made,) = copies_in(folder)
        assert made.beside.is_file()
    shutil.rmtree(tmp_path / "other")
    (tmp_path / "other").write_bytes(b"a file where the disk was")
    standing = keeper.copy_now()
    assert "folder cannot be used" in standing.note(NOW)
    assert not standing.made_today(NOW)


def test_a_copy_is_folded_whole_once_a_day_and_from_there_on_after(keeper, monkeypatch):
    seen = []
    real = copying.drill

    def drilled(copy, store, since):
        seen.append(since)
        return real(copy, store, since)

    monkeypatch.setattr(copying, "drill", drilled)
    for minutes in (0, 1, 2, 60 * 24):
        keeper._utc = lambda minutes=minutes: NOW + timedelta(minutes=minutes)
        keeper._store.append([PersonPrefers("p", text_scale=115)], person="p", utc=NOW)
        keeper._store.sign_head()
        assert keeper.copy_now().problem == ""
    whole, first, second, next_day = seen
    assert (whole, next_day) == (None, None)
    assert (first.head.size, second.head.size) == (2, 3)


def test_the_line_of_the_day_is_done_by_a_copy_of_today(tmp_path):
    bench = make_bench(tmp_path)
    session = bench.session

    def state():
        return next(line.state for line in session.day_lines() if line.key == BACKUP)

    assert state() is LineState.OPEN
    session.copies = CopyKeeper(bench.store, [tmp_path / "copies"], session.clock.utc)
    assert state() is LineState.OPEN
    assert session.copies.copy_now().problem == ""
    assert state() is LineState.DONE
    bench.store.close()
