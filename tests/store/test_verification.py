import re
import sqlite3

import pytest

from benchstation.domain.events import HoldTested, StepSigned
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.store import journal
from benchstation.store.canonical import canonical
from benchstation.store.engine import open_store
from benchstation.store.errors import StoreCorruptError
from benchstation.store.schema import TRIGGERS


@pytest.fixture
def written(store, add, opening, filing, lot, trace):
    """A closed file with a unit filed, an instrument used and a trace."""
    kept = trace()
    hold = HoldTested("u1", "charge", 1.5e6, 1.5e6, 30.0, 1e-6, 1e-6, 1e-4, "pass", kept.sha256)
    signed = StepSigned("u1", "release", (ZeroRead("zero1", "unit", 100.0, 1e4, "gauge-1"),))
    add(lot(), opening(), signed, hold, traces=[kept])
    add(filing(mass_kg=0.2221))
    add(lot("L-2"))
    head = store.head()
    store.close()
    return head


@pytest.fixture
def tamper(path, written):
    """Change the file with another program that takes the guards off and puts them back."""

    def change(*statements):
        raw = sqlite3.connect(path, isolation_level=None)
        for name in TRIGGERS:
            raw.execute(f"DROP TRIGGER {name}")
        for statement, *values in statements:
            assert raw.execute(statement, values).rowcount != 0
        for trigger in TRIGGERS.values():
            raw.execute(trigger)
        raw.close()

    return change


def verdict(path, **how):
    with open_store(path, "bench-1", read_only=True) as store:
        return store.verify(**how)


def test_what_was_not_touched_is_proven(path, written):
    assert verdict(path, anchor=written) == verdict(path)
    found = verdict(path)
    assert (found.ok, found.entries, found.head, found.problem) == (True, *written, "")


def test_an_empty_store_is_proven(store):
    found = store.verify()
    assert (found.ok, found.entries, found.head) == (True, 0, "0" * 64)


CASES = {
    "a byte of a body": (("UPDATE journal SET body = CAST(replace(CAST(body AS TEXT), '0.2221', "
                          "'0.2222') AS BLOB) WHERE seq = 5",), "entry 5 .* was altered"),
    "the person": (("UPDATE journal SET person = 'jo' WHERE seq = 3",), "entry 3 .* was altered"),
    "the time": (("UPDATE journal SET utc = replace(utc, '2026', '2025') WHERE seq = 1",),
                 "entry 1 .* was altered"),
    "the bench": (("UPDATE journal SET bench = 'b' WHERE seq = 6",), "ends at entry 5"),
    "the unit it is listed under": (("UPDATE journal SET unit_id = 'u2' WHERE seq = 3",),
                                    "another unit"),
    "an entry taken out": (("DELETE FROM journal WHERE seq = 3",), "something between is missing"),
    "the first taken out": (("DELETE FROM journal WHERE seq = 1",), "something between is missing"),
    "the end cut off": (("DELETE FROM journal WHERE seq = 6",), "ends at entry 5"),
    "all taken out": (("DELETE FROM journal",), "ends at entry 0"),
    "two entries swapped": (("UPDATE journal SET seq = seq + 100 WHERE seq IN (1, 6)",
                             "UPDATE journal SET seq = 107 - seq WHERE seq > 100"),
                            "entry 1 .* does not follow"),
    "text for bytes": (("UPDATE journal SET body = 'text' WHERE seq = 2",), "cannot be read"),
    "a trace altered": (("UPDATE trace SET data = x'00'",), "the trace .* was altered"),
    "a trace as text": (("UPDATE trace SET data = CAST(data AS TEXT)",), "cannot be read"),
    "a trace taken out": (("DELETE FROM trace",), "entry 4 .* a trace that is missing"),
    "a table": (("UPDATE unit SET decision = 'fail'",), "table unit does not match"),
    "a row of a table": (("DELETE FROM unit_instrument",), "unit instrument does not match"),
    "a row too many": (("INSERT INTO oil_lot VALUES ('bench-1', 'L-9', 1)",), "oil lot"),
    "a row of another bench": (("INSERT INTO oil_lot VALUES ('bench-2', 'L-1', 1)",), "oil lot"),
}  # fmt: skip


@pytest.mark.parametrize(("statements", "problem"), CASES.values(), ids=CASES.keys())
def test_every_change_is_found(path, tamper, statements, problem):
    tamper(*[(statement,) for statement in statements])
    found = verdict(path)
    assert not found.ok
    assert re.search(problem, found.problem), found.problem


def test_guards_that_are_gone_are_found(path, written):
    raw = sqlite3.connect(path)
    raw.execute("DROP TRIGGER journal_no_update")
    raw.close()
    assert "journal_no_update" in verdict(path).problem


def rechained(path, change):
    """Make the whole chain anew after ``change``, as someone with the file and the source could."""
    raw = sqlite3.connect(path)
    raw.row_factory = sqlite3.Row
    prev, rows = journal.GENESIS, raw.execute("SELECT * FROM journal ORDER BY seq").fetchall()
    for row in map(dict, rows):
        body = change(row["body"])
        args = [row[c] for c in ("bench", "seq", "utc", "person", "kind")]
        own = journal.hash_of(*args, body, prev)
        yield (
            "UPDATE journal SET body = ?, prev = ?, hash = ? WHERE seq = ?",
            body,
            prev,
            own,
            args[1],
        )
        prev = own
    yield "UPDATE meta SET value = ? WHERE key = 'head'", f"{len(rows)}:{prev}"
    raw.close()


def test_a_chain_made_anew_is_told_by_a_hash_noted_elsewhere(path, tamper, written):
    tamper(*rechained(path, lambda body: body.replace(b"0.2221", b"0.2222")))
    with open_store(path, "bench-1") as store:
        store.rebuild_projections()
    assert verdict(path).ok
    assert "not the one that was noted" in verdict(path, anchor=written).problem


def test_an_end_cut_off_cleanly_is_told_by_a_hash_noted_elsewhere(path, tamper, written):
    raw = sqlite3.connect(path)
    (last,) = raw.execute("SELECT hash FROM journal WHERE seq = 5").fetchone()
    raw.close()
    tamper(
        ("DELETE FROM journal WHERE seq = 6",),
        ("DELETE FROM oil_lot WHERE lot = 'L-2'",),
        ("DELETE FROM shop_fact WHERE seq = 6",),
        ("DELETE FROM tree_node WHERE number = 2 AND level = 1",),
        ("UPDATE meta SET value = ? WHERE key = 'head'", f"5:{last}"),
    )
    assert verdict(path).ok
    assert "entry 6 is missing" in verdict(path, anchor=written).problem


def test_a_body_not_in_canonical_form_is_found(path, tamper):
    tamper(*rechained(path, lambda body: body.replace(b":", b": ", 1)))
    assert "canonical" in verdict(path).problem


def test_an_event_of_unknown_form_is_found(path, tamper):
    tamper(*rechained(path, lambda body: canonical({"a": 1}) if b"L-2" in body else body))
    assert "entry 6 (oil.received" in verdict(path).problem


def test_it_tells_how_far_it_is_and_can_be_stopped(path, written):
    seen = []
    assert verdict(path, progress=lambda done, total: seen.append((done, total))).ok
    assert seen == [(7, 7)]
    stopped = verdict(path, cancelled=lambda: True)
    assert (stopped.ok, "stopped" in stopped.problem) == (False, True)


def spoil(path, table):
    raw = sqlite3.connect(path)
    (page,) = raw.execute("SELECT rootpage FROM sqlite_master WHERE name = ?", [table]).fetchone()
    raw.close()
    data = bytearray(path.read_bytes())
    data[(page - 1) * 4096 : page * 4096] = b"\xaa" * 4096
    path.write_bytes(data)


@pytest.mark.parametrize("table", ["journal", "trace", "unit", "alarm_episode"])
def test_a_damaged_page_is_found(path, written, table):
    spoil(path, table)
    found = verdict(path)
    assert not found.ok
    assert "damaged" in found.problem


def test_a_file_damaged_at_its_root_is_refused_in_words(path, written):
    spoil(path, "meta")
    with pytest.raises(StoreCorruptError, match="damaged"):
        open_store(path, "bench-1", read_only=True)
