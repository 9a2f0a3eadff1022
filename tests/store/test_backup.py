import os
import shutil
from datetime import UTC, datetime, timedelta

import pytest

from benchstation.store import backup
from benchstation.store.backup import (
    copies_in,
    drill,
    make_copy,
    outlived,
    restore,
    unpack_missing,
)
from benchstation.store.copies import Copy
from benchstation.store.engine import open_store
from benchstation.store.errors import (
    BehindError,
    NotOnRecordError,
    StoreCorruptError,
    StoreError,
    StoreLockedError,
)
from benchstation.store.trust import trust_at

NOW = datetime(2026, 3, 4, 17, 0, tzinfo=UTC)


@pytest.fixture
def trust(tmp_path):
    return trust_at(tmp_path / "home")


@pytest.fixture
def place(tmp_path):
    return tmp_path / "bench" / "rebuilds.sqlite"


@pytest.fixture
def running(place, trust, add, opening, filing, lot):
    """A bench that runs, with a filed unit."""
    with open_store(place, "bench-1", trust=trust) as store:
        add(lot(), opening(), to=store)
        add(filing(), to=store)
        yield store


def test_a_copy_of_a_running_bench_is_sound_private_and_compared(running, tmp_path, add, lot):
    add(lot("L-2"), to=running)
    made = make_copy(running.path, tmp_path / "copies", NOW)
    add(lot("L-3"), to=running)
    assert (drill(made, running).problem, drill(made, running).entries) == ("", 5)
    assert copies_in(tmp_path / "copies") == [made]
    assert made.utc == NOW
    assert not [f for f in made.path.parent.iterdir() if f.name.endswith((".part", "-wal"))]
    if os.name == "posix":
        assert made.path.stat().st_mode & 0o777 == 0o600
        assert made.path.parent.stat().st_mode & 0o777 == 0o700


def test_a_drill_finds_a_damaged_copy_and_one_of_other_records(
    running, tmp_path, trust, add, lot, opening, filing
):
    made = make_copy(running.path, tmp_path / "copies", NOW)
    data = bytearray(made.path.read_bytes())
    at = data.find(b"Damper oil VG 15")
    data[at] ^= 1
    made.path.write_bytes(data)
    assert "was altered" in drill(made, running).problem
    with open_store(tmp_path / "x" / "other.sqlite", "bench-1", trust=trust) as other:
        add(lot("L-9"), opening("u9"), filing("u9"), to=other)
        foreign = make_copy(other.path, tmp_path / "others", NOW)
    assert "copy and records differ" in drill(foreign, running).problem


def test_the_rule_keeps_the_newest_then_days_then_months():
    copies = [Copy(None, NOW - timedelta(hours=6 * n)) for n in range(4 * 100)]
    gone = outlived(copies, NOW)
    kept = [copy.utc for copy in copies if copy not in gone]
    assert kept[:10] == [copy.utc for copy in copies[:10]]
    assert len({utc.date() for utc in kept if NOW.date() - utc.date() < timedelta(days=30)}) == 30
    assert {(utc.year, utc.month) for utc in kept} == {(c.utc.year, c.utc.month) for c in copies}
    assert len(kept) < 50


def test_copies_that_outlived_the_rule_are_removed_and_nothing_else(running, tmp_path, monkeypatch):
    folder = tmp_path / "copies"
    monkeypatch.setattr(backup, "NEWEST_KEPT", 2)
    for hours in range(5):
        make_copy(running.path, folder, NOW + timedelta(minutes=hours))
        (folder / "holiday.jpg").write_bytes(b"mine")
    assert len(copies_in(folder)) == 2
    assert (folder / "holiday.jpg").exists()


def test_a_restored_copy_says_what_it_lacks_and_keeps_what_stood_there(
    running, place, tmp_path, trust, add, lot
):
    made = make_copy(place, tmp_path / "copies", NOW)
    with pytest.raises(StoreLockedError):
        restore(tmp_path / "copies", place, trust.known, NOW)
    add(lot("L-7"), to=running)
    running.close()
    before = place.read_bytes()
    done = restore(tmp_path / "copies", place, trust.known, NOW)
    assert (done.copy, done.entries) == (made, 4)
    assert done.set_aside.read_bytes() == before
    with pytest.raises(BehindError, match="1 are missing"):
        open_store(place, "bench-1", trust=trust)


def test_records_that_are_gone_come_back_whole(running, place, tmp_path, trust):
    running.close()
    with open_store(place, "bench-1", trust=trust) as store:
        kept = store.head()
    make_copy(place, tmp_path / "copies", NOW)
    shutil.rmtree(place.parent)
    assert restore(tmp_path / "copies", place, trust.known, NOW).set_aside is None
    with open_store(place, "bench-1", trust=trust) as store:
        assert store.head() == kept
        assert store.verify().problem == ""


def test_a_copy_that_is_not_sound_is_not_put_in_place(running, place, tmp_path, trust):
    by_hand = tmp_path / "by hand.sqlite"
    shutil.copyfile(place, by_hand)
    running.close()
    before = place.read_bytes()
    with pytest.raises(StoreCorruptError, match="copied while a program had it open"):
        restore(by_hand, place, trust.known, NOW)
    assert place.read_bytes() == before


def damaged_in(path, how):
    data = path.read_bytes()
    path.write_bytes({"header": b"DAMAGED" + data[7:],
                      "schema": data[:100] + b"DAMAGED" + data[107:],
                      "format": data[:41] + b"DAMAGED" + data[48:],
                      "cut": data[:5000],
                      "text": b"a letter to the supplier\n" * 99}[how])  # fmt: skip
    return path.read_bytes()


@pytest.mark.parametrize("how", ["header", "schema", "format", "cut", "text"])
def test_a_copy_is_put_in_the_place_of_a_damaged_file_and_that_is_kept(
    running, place, tmp_path, trust, how
):
    running.close()
    make_copy(place, tmp_path / "copies", NOW)
    broken = damaged_in(place, how)
    log = place.with_name(place.name + "-wal")
    log.write_bytes(b"the log")
    done = restore(tmp_path / "copies", place, trust.known, NOW)
    assert done.damaged
    assert done.set_aside.name.endswith("set-aside-20260304T170000Z")
    assert done.set_aside.read_bytes() == broken
    kept_log = done.set_aside.with_name(done.set_aside.name + "-wal")
    assert kept_log.read_bytes() == b"the log"
    with open_store(place, "bench-1", trust=trust) as store:
        assert store.verify().problem == ""


def test_what_is_set_aside_is_never_put_over_what_was(running, place, tmp_path, trust):
    running.close()
    make_copy(place, tmp_path / "copies", NOW)
    kept = {}
    for how in ("header", "text"):
        broken = damaged_in(place, how)
        kept[restore(tmp_path / "copies", place, trust.known, NOW).set_aside] = broken
    assert len(kept) == 2
    assert all(file.read_bytes() == broken for file, broken in kept.items())


def test_a_disk_that_fills_leaves_the_records_where_they_are(
    running, place, tmp_path, trust, monkeypatch
):
    running.close()
    make_copy(place, tmp_path / "copies", NOW)
    before = place.read_bytes()

    def full(source, target):
        target.write_bytes(b"the beginning")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(shutil, "copyfile", full)
    with pytest.raises(StoreError, match="No space left"):
        restore(tmp_path / "copies", place, trust.known, NOW)
    assert place.read_bytes() == before
    assert not list(place.parent.glob("*.part"))


def test_a_damaged_copy_is_said_to_be_the_copy(running, place, tmp_path, trust):
    running.close()
    made = make_copy(place, tmp_path / "copies", NOW)
    before = place.read_bytes()
    damaged_in(made.path, "cut")
    with pytest.raises(StoreCorruptError, match="this copy is not sound") as raised:
        restore(tmp_path / "copies", place, trust.known, NOW)
    assert str(raised.value.where) == str(made.path)
    assert place.read_bytes() == before


def test_a_copy_of_another_bench_is_refused(running, place, tmp_path, trust):
    running.close()
    with open_store(tmp_path / "o" / "b2.sqlite", "bench-2") as other:
        made = make_copy(other.path, tmp_path / "others", NOW)
    with pytest.raises(StoreError, match="of the bench 'bench-2'"):
        restore(made.path, place, trust.known, NOW)


def test_a_folder_without_copies_or_that_cannot_be_used_is_said(place, tmp_path, trust, running):
    (tmp_path / "empty").mkdir()
    with pytest.raises(NotOnRecordError, match="no copy"):
        restore(tmp_path / "empty", place, trust.known, NOW)
    (tmp_path / "file").touch()
    with pytest.raises(StoreError, match="folder cannot be used"):
        make_copy(place, tmp_path / "file", NOW)


@pytest.fixture
def beside(tmp_path):
    """Settings and a profile of a bench."""
    home = tmp_path / "old"
    (home / "profiles").mkdir(parents=True)
    (home / "settings.json").write_text("{}")
    (home / "profiles" / "mine.toml").write_text("# mine")
    return {"settings.json": home / "settings.json",
            "profiles/mine.toml": home / "profiles" / "mine.toml"}  # fmt: skip


def test_settings_and_profiles_are_in_each_copy_and_go_with_it(running, tmp_path, beside):
    folder = tmp_path / "copies"
    made = make_copy(running.path, folder, NOW, beside)
    assert drill(made, running).problem == ""
    new = tmp_path / "new"
    assert sorted(unpack_missing(made, new)) == ["profiles/mine.toml", "settings.json"]
    assert (new / "profiles" / "mine.toml").read_text() == "# mine"
    (new / "settings.json").write_text("changed")
    assert unpack_missing(made, new) == []
    assert (new / "settings.json").read_text() == "changed"
    for months in range(1, 14):
        make_copy(running.path, folder, NOW + timedelta(days=3 * months), beside)
    assert len(list(folder.glob("*.zip"))) == len(copies_in(folder))
    made = make_copy(running.path, folder, NOW + timedelta(days=90), beside)
    data = bytearray(made.beside.read_bytes())
    data[40] ^= 1
    made.beside.write_bytes(data)
    assert "settings beside the copy" in drill(made, running).problem


def test_nothing_of_a_copy_is_put_outside_its_folder(running, tmp_path):
    made = make_copy(running.path, tmp_path / "copies", NOW, {"../x": running.path})
    assert unpack_missing(made, tmp_path / "new") == []
    assert not (tmp_path / "x").exists()
