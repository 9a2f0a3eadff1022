"""One byte of the file is changed: that is found, or nothing of what is stored is other."""

import random
import sqlite3

import pytest

from benchstation.cli.main import main
from benchstation.driver_api.errors import StationError
from benchstation.store.engine import open_store
from benchstation.store.stored_schema import damaged_indexes, differences
from benchstation.store.trust import trust_at


@pytest.fixture
def whole(tmp_path, add, lot, opening, filing, trace):
    """A closed file with filed units, a trace and signed heads; its computer knows its head."""
    path, trust = tmp_path / "bench" / "r.sqlite", trust_at(tmp_path / "home")
    with open_store(path, "bench-1", trust=trust) as store:
        add(lot(), to=store)
        for n in range(3):
            add(opening(f"u{n}", f"MR-{n}"), to=store)
            add(filing(f"u{n}"), traces=[trace(n=50 + n)], to=store)
    return path


def content(path):
    """Return every row of every table in the order of its key, and the schema."""
    raw = sqlite3.connect(f"{path.resolve().as_uri()}?immutable=1", uri=True)
    try:
        master = raw.execute("SELECT type, name, tbl_name, sql FROM sqlite_master").fetchall()
        tables = [name for kind, name, *_ in master if kind == "table"]
        return master, {name: raw.execute(f"SELECT * FROM {name}").fetchall() for name in tables}
    finally:
        raw.close()


def one_bit(byte, chance):
    return byte ^ 1 << chance.randrange(8)


def one_byte(byte, chance):
    return (byte + chance.randrange(1, 256)) % 256


def flip(path, whole, at, chance, trust, changed):
    """Change the byte there; return whether verify finds it."""
    data = bytearray(whole)
    data[at] = changed(data[at], chance)
    path.write_bytes(data)
    for end in ("-wal", "-shm"):
        path.with_name(path.name + end).unlink(missing_ok=True)
    try:
        with open_store(path, "", read_only=True, trust=trust) as store:
            found = not store.verify().ok
    except StationError:
        found = True
    return found


def flips(path, tmp_path, count, seed, changed=one_bit):
    trust, before, data = trust_at(tmp_path / "home"), content(path), path.read_bytes()
    chance, found = random.Random(seed), 0
    for _ in range(count):
        at = chance.randrange(len(data))
        seen = flip(path, data, at, chance, trust, changed)
        found += seen
        if not seen:
            assert content(path) == before, f"byte {at} changed what is stored and was not found"
    return found


@pytest.mark.parametrize("changed", [one_bit, one_byte])
def test_a_changed_byte_is_found_or_changes_nothing(whole, tmp_path, changed):
    flips(whole, tmp_path, 75, 13, changed)


@pytest.mark.parametrize("changed", [one_bit, one_byte])
def test_a_changed_byte_of_an_entry_is_always_found(whole, tmp_path, changed):
    trust, data, chance = trust_at(tmp_path / "home"), whole.read_bytes(), random.Random(15)
    raw = sqlite3.connect(f"{whole.resolve().as_uri()}?immutable=1", uri=True)
    bodies = [bytes(body) for (body,) in raw.execute("SELECT body FROM journal")]
    raw.close()
    # One that stands twice has its older copy in what a page left free.
    bodies = [body for body in bodies if data.count(body) == 1]
    places = [data.index(body) + chance.randrange(len(body)) for body in bodies]
    assert len(places) > 2, "bodies stand whole in their pages"
    for at in places[:20]:
        assert flip(whole, data, at, chance, trust, changed), f"byte {at} of an entry"


@pytest.mark.soak
@pytest.mark.parametrize("changed", [one_bit, one_byte])
def test_a_thousand_changed_bytes_are_found_or_change_nothing(whole, tmp_path, changed):
    assert flips(whole, tmp_path, 1000, 14, changed) > 50


def test_a_schema_that_was_altered_is_found_and_named(whole):
    raw = sqlite3.connect(whole, isolation_level=None)
    raw.execute("PRAGMA writable_schema=1")
    raw.execute("UPDATE sqlite_master SET sql = replace(sql, 'length(sha256) = 64', "
                "'length(sha256) = 46') WHERE name = 'photo'")  # fmt: skip
    raw.close()
    with open_store(whole, "", read_only=True) as store:
        with store.reading() as connection:
            assert differences(connection) == ["photo"]
        assert "the schema in the file was altered: photo" in store.verify().problem


def test_a_damaged_index_is_said_and_made_again(whole, capsys):
    raw = sqlite3.connect(whole, isolation_level=None)
    (page,) = raw.execute(
        "SELECT rootpage FROM sqlite_master WHERE name = 'ix_unit_serial'"
    ).fetchone()
    (key,) = raw.execute("SELECT serial_key FROM unit WHERE unit_id = 'u1'").fetchone()
    (size,) = raw.execute("PRAGMA page_size").fetchone()
    raw.close()
    data = bytearray(whole.read_bytes())
    at = data.index(key.encode(), (page - 1) * size, page * size)
    data[at] ^= 2
    whole.write_bytes(data)
    with open_store(whole, "", read_only=True) as store:
        assert store.verify().damaged_indexes == ("ix_unit_serial",)
    assert main(["verify", str(whole)]) == 0
    out, err = capsys.readouterr()
    assert "ix_unit_serial is damaged" in err
    assert "sound" in out
    assert main(["verify", str(whole)]) == 0


def test_only_findings_about_indexes_name_indexes():
    assert damaged_indexes(["row 2 missing from index a", "wrong # of entries in index b"]) == (
        "a", "b",
    )  # fmt: skip
    assert damaged_indexes(["row 2 missing from index a", "Page 4: never used"]) == ()
    assert damaged_indexes([]) == ()
