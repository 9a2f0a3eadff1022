"""The mains fail while a record is written: all of the last append is there, or nothing of it.

What a disk holds after a power cut is made from the files before and after the append: the write-
ahead log cut at any byte, its sectors lost or full of rubbish in any order, or the checkpoint that
follows half done. Everything acknowledged before must be there each time.
"""

import random
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from benchstation.store.engine import open_store
from benchstation.store.errors import BehindError
from benchstation.store.trust import Acceptance

SECTOR = 512
RUBBISH = random.Random(8)
CUT_EVERY = 101
"""Bytes between two cuts; odd, so that they fall everywhere in a frame."""


class Disk:
    """The files of a store just before and just after its last append."""

    def __init__(self, path: Path, store, add, before, last) -> None:
        self.path, self.wal = path, path.with_name(path.name + "-wal")
        before()
        self.database, self.log = path.read_bytes(), self.wal.read_bytes()
        self.kept = [e.hash for e in store.entries()]
        last()
        self.log_after = self.wal.read_bytes()
        self.all = [e.hash for e in store.entries()]
        assert path.read_bytes() == self.database, "a checkpoint came in between"
        assert len(self.all) > len(self.kept) > 0

    def after(self, folder: Path, log: bytes, database: bytes | None = None) -> Path:
        """Return a records file as the disk holds it after the cut."""
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        path = folder / self.path.name
        path.write_bytes(self.database if database is None else database)
        path.with_name(path.name + "-wal").write_bytes(log)
        return path


def hashes(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as connection:
        return [h for (h,) in connection.execute("SELECT hash FROM journal ORDER BY seq")]


def assert_goes_on(path: Path, disk: Disk, add, lot) -> None:
    """Open it as the station does: sound, nothing lost that was acknowledged, and in use again."""
    with open_store(path, "bench-1") as store:
        found = [e.hash for e in store.entries()]
        assert found in (disk.kept, disk.all)
        add(lot("L-9"), to=store)
        verified = store.verify()
        assert (verified.problem, verified.entries) == ("", len(found) + 1)


@pytest.fixture
def disk(path, store, add, lot, opening, filing, trace):
    """A filed unit with its trace is the append that is cut."""
    # Opened anew, the log is short: what is written from here on makes it longer.
    store.close()
    with open_store(path, "bench-1") as again:
        yield Disk(
            path,
            again,
            add,
            lambda: (add(lot(), to=again), add(opening(), to=again)),
            lambda: add(filing(weight=1.5, words="x" * 3000), traces=[trace(n=2000)], to=again),
        )


def test_a_log_cut_at_any_byte_holds_all_or_nothing(disk, tmp_path):
    seen = set()
    ends = {*range(len(disk.log), len(disk.log_after), CUT_EVERY), len(disk.log_after)}
    for end in sorted(ends):
        found = hashes(disk.after(tmp_path / "cut", disk.log_after[:end]))
        assert found in (disk.kept, disk.all), f"cut at {end}"
        seen.add(len(found))
    assert seen == {len(disk.kept), len(disk.all)}, "both outcomes came about"
    assert len(ends) > 50


def test_a_log_that_ends_in_rubbish_holds_all_or_nothing(disk, tmp_path):
    """The file has its new length already, but not yet its new bytes."""
    for end in range(len(disk.log), len(disk.log_after), 5 * CUT_EVERY):
        left = len(disk.log_after) - end
        for filling in (bytes(left), RUBBISH.randbytes(left)):
            path = disk.after(tmp_path / "rubbish", disk.log_after[:end] + filling)
            assert hashes(path) in (disk.kept, disk.all), f"from {end}"


def test_sectors_that_were_never_written_lose_the_last_append_only(disk, tmp_path):
    """A disk writes in any order until it is told to finish: any sectors of it may be missing."""
    chance, lost = random.Random(9), 0
    first = len(disk.log) // SECTOR + 1
    for _ in range(60):
        log = bytearray(disk.log_after)
        for sector in range(first, len(log) // SECTOR):
            if chance.random() < 0.1:
                place = slice(sector * SECTOR, (sector + 1) * SECTOR)
                log[place] = chance.choice((bytes(SECTOR), chance.randbytes(SECTOR)))
        found = hashes(disk.after(tmp_path / "sectors", bytes(log)))
        assert found in (disk.kept, disk.all)
        lost += found == disk.kept
    assert lost > 30


@pytest.mark.parametrize("share", [0.0, 0.3, 0.7, 0.999, 1.0])
def test_the_station_goes_on_after_the_cut(disk, tmp_path, store, add, lot, share):
    new = len(disk.log_after) - len(disk.log)
    path = disk.after(tmp_path / "on", disk.log_after[: len(disk.log) + int(share * new)])
    assert_goes_on(path, disk, add, lot)


def test_a_cut_in_the_middle_of_a_checkpoint_loses_nothing(disk, tmp_path, store, add, lot):
    """Pages go from the log into the file in any order; the log stays until all are there."""
    whole = disk.after(tmp_path / "whole", disk.log_after)
    connection = sqlite3.connect(whole)
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    (page,) = connection.execute("PRAGMA page_size").fetchone()
    connection.close()
    done, chance = whole.read_bytes(), random.Random(10)
    for n in range(40):
        half = bytearray(disk.database.ljust(len(done), b"\0"))
        for at in range(0, len(done), page):
            end = at + (page if chance.random() < 0.9 else SECTOR)
            if chance.random() < 0.5:
                half[at:end] = done[at:end]
        path = disk.after(tmp_path / "half", disk.log_after, bytes(half))
        assert hashes(path) == disk.all
        if n % 10 == 0:
            # The other program took the log in and away.
            path = disk.after(tmp_path / "half", disk.log_after, bytes(half))
            assert_goes_on(path, disk, add, lot)


def test_a_lost_log_is_told_and_not_taken_for_the_whole(disk, tmp_path):
    """Never copy the file without its log: what is missing is seen by a hash noted elsewhere."""
    path = disk.after(tmp_path / "alone", b"")
    try:
        found = hashes(path)
    except sqlite3.OperationalError:
        found = []
    assert found == disk.all[: len(found)]
    assert len(found) < len(disk.all)


def test_a_lost_log_is_refused_and_never_called_sound(disk, tmp_path, add, lot):
    alone = tmp_path / "raw" / "records.db"
    alone.parent.mkdir()
    shutil.copyfile(disk.path, alone)
    with open_store(alone, "bench-1", read_only=True) as store:
        assert "copied while a program had it open" in store.verify().problem
    with pytest.raises(BehindError, match="newest entries are missing"):
        open_store(alone, "bench-1")
    said = Acceptance("lea", "the log is lost")
    with open_store(alone, "bench-1", accepted=said) as store:
        add(lot("L-9"), to=store)
        assert store.verify().problem == ""
