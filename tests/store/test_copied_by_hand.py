"""A file that is copied with the system's own means while the bench writes is known for what it is.

At random moments of a process that files unit after unit: the file alone, the file and its log, the
log first, and copies torn between two moments. None of them is ever called sound.
"""

import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from benchstation.driver_api.errors import StationError
from benchstation.store.engine import open_store
from benchstation.store.errors import BehindError
from benchstation.store.known_heads import KnownHeads
from benchstation.store.last_entry import noted
from benchstation.store.trust import trust_at

WRITER = """
import sys, itertools, time
from datetime import UTC, datetime
from pathlib import Path
from benchstation.domain.events import RebuildOpened, UnitFiled, PersonPrefers
from benchstation.store.engine import open_store
from benchstation.store.trust import trust_at
path, home, pause = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3:]
with open_store(path, "bench-1", trust=trust_at(home)) as store:
    for n in itertools.count():
        now, unit = datetime.now(UTC), f"u{n}"
        store.append([RebuildOpened(unit, unit, "f", "s", 1, "L", "", "")], person="p", utc=now)
        for size in (100, 115, 130):
            store.append([PersonPrefers("p", text_scale=size)], person="p", utc=now)
        store.append([UnitFiled(unit, unit, "pass", False, {"k": "v" * 3000})], person="p", utc=now)
        print(n, flush=True)
        time.sleep(0.2)
"""


@pytest.fixture
def writer(tmp_path):
    """A process that files one unit after the other; it is killed at the end."""
    started = []

    def start():
        path, home = tmp_path / "bench" / "rebuilds.sqlite", tmp_path / "home"
        process = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), str(home)], stdout=subprocess.PIPE
        )
        started.append(process)
        for _ in range(3):
            process.stdout.readline()
        return process, path, home

    yield start
    for process in started:
        process.kill()
        process.stdout.close()
        process.wait()


def torn(source, target, chance):
    """Copy a file in two parts with a pause between."""
    with source.open("rb") as reader, target.open("wb") as copy:
        copy.write(reader.read(chance.randrange(4096, 65536)))
        time.sleep(chance.random() * 0.02)
        copy.write(reader.read())


def copied(path, folder, way, chance):
    folder.mkdir()
    copy, log = folder / path.name, path.with_name(path.name + "-wal")
    files = [(path, copy), (log, folder / log.name)]
    if way == "the file alone":
        files = files[:1]
    elif way == "the log first":
        files.reverse()
    for source, target in files:
        if way == "torn":
            torn(source, target, chance)
        else:
            shutil.copyfile(source, target)
    return copy


def said_of(copy, home):
    """Return what verifying a file says, empty: sound."""
    try:
        with open_store(copy, "", read_only=True) as store:
            return store.verify(known=KnownHeads(home)).problem
    except StationError as error:
        return str(error)


WAYS = ("the file alone", "file and log", "the log first", "torn")


def moments(writer, tmp_path, count, seed):
    process, path, home = writer()
    chance = random.Random(seed)
    for number in range(count):
        way = WAYS[number % len(WAYS)]
        time.sleep(chance.random() * 0.02)
        copy = copied(path, tmp_path / f"copy{number}", way, chance)
        said = said_of(copy, home)
        assert said, f"{way}, {number}: called sound"
        assert "Nothing was in it" not in said
        assert said_of(copy, tmp_path / "another computer"), f"{way}, {number}: elsewhere"
        shutil.rmtree(copy.parent)
    assert process.poll() is None


def test_a_copy_by_hand_is_never_called_sound(writer, tmp_path):
    moments(writer, tmp_path, 8, 1)


@pytest.mark.soak
def test_two_hundred_copies_by_hand_are_never_called_sound(writer, tmp_path):
    moments(writer, tmp_path, 200, 2)


@pytest.fixture
def killed(writer):
    """Records whose program was killed between two filings."""
    process, path, home = writer()
    process.send_signal(signal.SIGKILL)
    process.wait()
    return path, home


def taken_in(path):
    """Let another program take the log in, as any that opens and closes the file does."""
    code = (
        f"import sqlite3; c = sqlite3.connect({str(path)!r}); "
        "c.execute('SELECT count(*) FROM journal').fetchone(); c.close()"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
    assert not path.with_name(path.name + "-wal").exists()


def test_a_log_that_another_program_took_in_asks_nobody(killed):
    path, home = killed
    taken_in(path)
    assert said_of(path, home) == ""
    with open_store(path, "bench-1", trust=trust_at(home)) as store:
        assert store.verify().problem == ""


def test_a_log_that_is_gone_is_found_by_the_entries_in_it(killed):
    path, home = killed
    path.with_name(path.name + "-wal").unlink()
    wrote = noted(home, path)[1][0]
    assert f"noted entry {wrote}" in said_of(path, home)
    with pytest.raises(BehindError, match="the newest entries are missing"):
        open_store(path, "bench-1", trust=trust_at(home))


def test_so_is_one_that_was_cut(killed):
    path, home = killed
    log = path.with_name(path.name + "-wal")
    with log.open("rb+") as file:
        file.truncate(log.stat().st_size // 2)
    assert "was lost or cut" in said_of(path, home)
    with pytest.raises(BehindError, match="entries are missing"):
        open_store(path, "bench-1", trust=trust_at(home))


def test_without_a_note_a_log_that_is_gone_is_asked_about(killed):
    path, home = killed
    taken_in(path)
    shutil.rmtree(home / "last")
    assert "its log" in said_of(path, home)
    with pytest.raises(BehindError, match="its log"):
        open_store(path, "bench-1", trust=trust_at(home))


def test_a_folder_that_was_moved_after_a_crash_opens_where_nothing_is_missing(killed, tmp_path):
    path, home = killed
    moved = Path(shutil.move(path.parent, tmp_path / "moved")) / path.name
    assert "copied by hand" in said_of(moved, home)
    with open_store(moved, "bench-1", trust=trust_at(home)) as store:
        assert store.verify().problem == ""
    assert said_of(moved, home) == ""
