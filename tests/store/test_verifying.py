"""What was proven whole is not read again, and is never trusted beyond what still proves it."""

import os
import re
import shutil
import sqlite3
from datetime import UTC, datetime

import pytest

from benchstation.domain.events import HoldTested
from benchstation.store import engine, verify_apart
from benchstation.store.engine import open_store
from benchstation.store.known_heads import KnownHeads
from benchstation.store.proven import FOLDER, ProvenHeads
from benchstation.store.schema import TRIGGERS
from benchstation.store.trust import trust_at
from benchstation.store.verification import Outside
from benchstation.store.verify_since import verify_since
from benchstation.store.verifying import Verifier

NOW = datetime(2026, 3, 4, 12, tzinfo=UTC)


@pytest.fixture
def home(tmp_path):
    return tmp_path / "home"


@pytest.fixture
def place(tmp_path):
    return tmp_path / "bench" / "rebuilds.sqlite"


@pytest.fixture
def file_unit(place, home, add, opening, filing, trace):
    """Open the bench, file a unit with a trace and close."""

    def work(unit, seed=0):
        with open_store(place, "bench-1", trust=trust_at(home)) as store:
            kept = trace(seed=seed)
            hold = HoldTested(
                unit, "charge", 1.5e6, 1.5e6, 30.0, 1e-6, 1e-6, 1e-4, "pass", kept.sha256
            )
            add(opening(unit, f"MR-{unit}"), hold, traces=[kept], to=store)
            add(filing(unit, f"MR-{unit}"), to=store)

    work("u1")
    return work


def new(place, home, **how):
    with open_store(place, "", read_only=True) as store:
        return Verifier(store, KnownHeads(home), lambda: NOW).new(**how)


def altered(path, *statements):
    raw = sqlite3.connect(path, isolation_level=None)
    for name in TRIGGERS:
        raw.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        assert raw.execute(statement).rowcount
    for trigger in TRIGGERS.values():
        raw.execute(trigger)
    raw.close()


def test_only_what_came_since_is_read(place, home, file_unit):
    first = new(place, home)
    assert (first.ok, first.since, first.entries) == (True, None, 4)
    again = new(place, home)
    assert (again.ok, again.since.head.size, again.since.whole_entries) == (True, 4, 4)
    file_unit("u2")
    seen = []
    found = new(place, home, progress=lambda done, total: seen.append((done, total)))
    assert (found.ok, found.entries, found.since.head.size, seen) == (True, 7, 4, [(3, 3)])
    assert new(place, home).since.head.size == 7
    assert new(place, home).since.whole_entries == 4


def test_a_file_that_something_else_wrote_is_read_whole(place, home, file_unit):
    assert new(place, home).ok
    altered(
        place,
        "UPDATE journal SET body = CAST(replace(CAST(body AS TEXT), 'MR-u1', 'MR-ux') "
        "AS BLOB) WHERE seq = 2",
    )
    found = new(place, home)
    assert (found.ok, found.since) == (False, None)
    assert "entry 2" in found.problem


def test_so_is_one_whose_time_was_set_back(place, home, file_unit):
    assert new(place, home).ok
    before = place.stat()
    altered(place, "UPDATE journal SET person = 'jo' WHERE seq = 2")
    os.utime(place, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert "entry 2" in new(place, home).problem


def test_and_one_that_was_written_between_two_runs(place, home, file_unit):
    assert new(place, home).ok
    altered(place, "UPDATE journal SET person = 'jo' WHERE seq = 2")
    file_unit("u2")
    assert "entry 2" in new(place, home).problem


def test_and_one_whose_program_was_killed(place, home, file_unit):
    assert new(place, home).ok
    ProvenHeads(home).opened(place)
    file_unit("u2")
    assert new(place, home).since is None


def test_what_is_new_is_proven_while_the_bench_runs(place, home, file_unit, add, lot):
    assert new(place, home).ok
    with open_store(place, "bench-1", trust=trust_at(home)) as store:
        add(lot("L-9"), to=store)
        found = Verifier(store, KnownHeads(home)).new()
        assert (found.ok, found.entries, found.since.head.size) == (True, 5, 4)
    assert new(place, home).since.head.size == 4


SINCE = {
    "a new entry": ("UPDATE journal SET person = 'jo' WHERE seq = 6", "entry 6 .* was altered"),
    "its trace": ("UPDATE trace SET data = x'00' WHERE sha256 = (SELECT sha256 FROM trace "
                  "ORDER BY rowid DESC LIMIT 1)", "the trace .* was altered"),
    "the proven entry": ("UPDATE journal SET hash = replace(hash, substr(hash, 1, 1), 'x') "
                         "WHERE seq = 4", "entry 4 is not the one up to which"),
    "a node of the tree": ("UPDATE tree_node SET hash = zeroblob(32) WHERE level = 2",
                           "the first 4 entries are not those"),
    "the end": ("DELETE FROM journal WHERE seq = 7", "ends at entry 6"),
    "a head": ("UPDATE tree_head SET signature = '' WHERE size = 7", "is not genuine"),
    "the tail rolled back": ("DELETE FROM journal WHERE seq > 4", "ends at entry 4"),
}  # fmt: skip


@pytest.mark.parametrize(("statement", "problem"), SINCE.values(), ids=SINCE)
def test_what_came_since_and_the_way_to_it_are_proven(
    place, home, file_unit, statement, problem, tmp_path
):
    """Even where the file's times would say that nobody wrote it."""
    assert new(place, home).ok
    proven = ProvenHeads(home).of(place)
    file_unit("u2", seed=1)
    altered(place, statement)
    with open_store(place, "", read_only=True) as store, store.reading() as connection:
        outside = Outside(place, trust_at(home).known)
        found = verify_since(connection, "bench-1", outside, proven)
    assert not found.ok
    assert re.search(problem, found.problem), found.problem


def test_a_note_of_another_key_or_of_another_journal_is_worth_nothing(
    place, home, file_unit, tmp_path
):
    assert new(place, home).ok
    own = ProvenHeads(home).of(place)
    thief = trust_at(tmp_path / "thief").key
    forged = thief.sign("bench-1", own.head.size, bytes.fromhex(own.head.root), NOW)
    with open_store(place, "", read_only=True) as store, store.reading() as connection:
        for head in (forged, trust_at(home).key.sign("bench-1", 4, b"\1" * 32, NOW)):
            note = type(own)(own.whole_utc, 4, head, own.hash)
            assert not verify_since(connection, "bench-1", Outside(), note).ok
    (file,) = (home / FOLDER).iterdir()
    file.write_text(file.read_text().replace('"size": 4', '"size": 3'))
    assert new(place, home).since is None


def test_an_anchor_from_before_is_held_against_the_file(place, home, file_unit):
    assert new(place, home).ok
    with open_store(place, "", read_only=True) as store:
        hashes = [e.hash for e in store.entries()]
    assert new(place, home, anchor=(2, hashes[1])).ok
    assert "not the one that was noted" in new(place, home, anchor=(2, "0" * 64)).problem
    assert "entry 9 is missing" in new(place, home, anchor=(9, "0" * 64)).problem


def test_the_way_from_what_was_proven_is_logarithmic(place, home, add, lot, monkeypatch):
    with open_store(place, "bench-1", trust=trust_at(home)) as store:
        add(*(lot(f"L-{n}") for n in range(3000)), to=store)
    assert new(place, home).ok
    with open_store(place, "bench-1", trust=trust_at(home)) as store:
        add(lot("L-new"), to=store)
    read = []
    real = engine.tree_rows.node_at

    def counted(connection, bench):
        node = real(connection, bench)
        return lambda level, number: read.append((level, number)) or node(level, number)

    monkeypatch.setattr(engine.tree_rows, "node_at", counted)
    found = new(place, home)
    assert (found.ok, found.since.head.size) == (True, 3001)
    assert 0 < len(read) <= 6 * (3001).bit_length()


def test_a_copy_elsewhere_is_read_whole_and_leaves_no_note(place, home, file_unit, tmp_path):
    assert new(place, home).ok
    other = tmp_path / "copy.sqlite"
    shutil.copy2(place, other)
    assert new(other, home).since is None
    assert len(list((home / FOLDER).iterdir())) == 1


@pytest.fixture
def apart(monkeypatch):
    """Let even a short journal be looked at by two processes."""
    monkeypatch.setattr(engine, "APART_FROM", 1)
    monkeypatch.setattr(engine, "MOST_WORKERS", 2)
    monkeypatch.setattr(engine.os, "cpu_count", lambda: 2)
    monkeypatch.setattr(verify_apart, "ROWS_A_JOB", 3)


def whole(place, home, **how):
    with open_store(place, "", read_only=True) as store:
        return store.verify(known=trust_at(home).known, **how)


APART = {
    "a body": ("UPDATE journal SET person = 'jo' WHERE seq = 5", "entry 5 .* was altered"),
    "a trace": ("UPDATE trace SET data = x'00'", "trace .* was altered"),
    "a table": ("UPDATE unit SET decision = 'fail'", "table unit does not match"),
    "a head": ("UPDATE tree_head SET signature = ''", "not genuine"),
    "the end": ("DELETE FROM journal WHERE seq = 7", "ends at entry 6"),
    "a row": ("DELETE FROM journal WHERE seq = 4", "something"),
}


@pytest.mark.parametrize(("statement", "problem"), APART.values(), ids=APART)
def test_several_processes_find_what_one_finds(place, home, file_unit, apart, statement, problem):
    file_unit("u2", seed=1)
    altered(place, statement)
    found = whole(place, home)
    assert not found.ok
    assert re.search(problem, found.problem), found.problem


def test_several_processes_prove_tell_and_stop(place, home, file_unit, apart):
    file_unit("u2")
    seen = []
    found = whole(place, home, progress=lambda done, total: seen.append((done, total)))
    assert (found.ok, found.entries, found.problem) == (True, 7, "")
    assert seen
    stopped = whole(place, home, cancelled=lambda: True)
    assert (stopped.ok, stopped.stopped) == (False, True)
