"""Cut, rewritten and rolled back records are found with nobody typing an anchor."""

import os
import shutil
import sqlite3
from dataclasses import asdict, replace
from datetime import UTC, datetime

import pytest

from benchstation.domain.events import BenchKeyMade, LossAccepted
from benchstation.store import signed_heads, tree_rows
from benchstation.store.backup import make_copy
from benchstation.store.bench_key import KEY_FILE, BenchKeyError, bench_key
from benchstation.store.engine import open_store
from benchstation.store.errors import BehindError, StoreError
from benchstation.store.journal import hash_of
from benchstation.store.known_heads import FOLDER, KnownHeads, lack_of
from benchstation.store.schema import TRIGGERS
from benchstation.store.trust import Acceptance, trust_at

NOW = datetime(2026, 3, 4, 17, 0, tzinfo=UTC)


@pytest.fixture
def home(tmp_path):
    return tmp_path / "home"


@pytest.fixture
def bench(path, home, add, opening, filing, lot):
    """Records of a bench with a filed unit, closed; its computer has a key."""

    def work(unit):
        with open_store(path, "bench-1", trust=trust_at(home)) as store:
            add(lot(f"L-{unit}"), opening(unit), to=store)
            add(filing(unit), to=store)

    # The fixture of the tests' other stores holds this file open.
    path.unlink()
    work("u1")
    return work


@pytest.fixture
def path(tmp_path, store):
    """Another place than that of the usual fixture, which stays open."""
    place = tmp_path / "bench" / "rebuilds.sqlite"
    place.parent.mkdir()
    place.touch()
    return place


@pytest.fixture
def store(tmp_path):
    with open_store(tmp_path / "other.db", "bench-1") as opened:
        yield opened


def verdict(path, home):
    with open_store(path, "", read_only=True, trust=trust_at(home)) as store:
        return store.verify()


def altered(path, *statements):
    raw = sqlite3.connect(path, isolation_level=None)
    for name in TRIGGERS:
        raw.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        raw.execute(statement)
    for trigger in TRIGGERS.values():
        raw.execute(trigger)
    raw.close()


def made_anew(path, cut=0, words=("L-u1", "L-ux")):
    """Forge the chain: cut entries from the end or change a word, and make all else fit."""
    raw = sqlite3.connect(path, isolation_level=None)
    for name in TRIGGERS:
        raw.execute(f"DROP TRIGGER {name}")
    rows = raw.execute("SELECT bench,seq,utc,person,kind,body FROM journal ORDER BY seq").fetchall()
    prev, kept = "0" * 64, rows[: len(rows) - cut]
    raw.execute("DELETE FROM journal WHERE seq > ?", [len(kept)])
    raw.execute("DELETE FROM tree_head WHERE size > ?", [len(kept)])
    for bench, seq, utc, person, kind, body in kept:
        body = body if cut else body.replace(words[0].encode(), words[1].encode())
        own = hash_of(bench, seq, utc, person, kind, body, prev)
        raw.execute("UPDATE journal SET body=?, prev=?, hash=? WHERE seq=?", [body, prev, own, seq])
        prev = own
    if not cut:
        raw.execute("DELETE FROM tree_head")
    raw.execute("UPDATE meta SET value=? WHERE key='head'", [f"{len(kept)}:{prev}"])
    for trigger in TRIGGERS.values():
        raw.execute(trigger)
    raw.close()
    with open_store(path, "bench-1") as store:
        store.rebuild_projections()


def test_the_key_is_made_once_and_only_its_owner_may_read_it(path, home, bench):
    assert bench_key(home).public == bench_key(home).public
    if os.name == "posix":
        for file in (path, home / KEY_FILE, *(home / FOLDER).iterdir()):
            assert file.stat().st_mode & 0o777 == 0o600, file
        assert {f.stat().st_mode & 0o777 for f in (home, home / FOLDER)} == {0o700}
    assert bench_key(home).public not in (home / KEY_FILE).read_text()
    assert "private" not in repr(bench_key(home)).lower()


def test_a_key_that_is_damaged_is_said_and_kept(home, bench):
    (home / KEY_FILE).write_bytes(b"rubbish")
    with pytest.raises(BenchKeyError, match="damaged or of another kind"):
        bench_key(home)
    assert (home / KEY_FILE).read_bytes() == b"rubbish"


def test_heads_are_signed_at_filing_and_closing_with_the_key_on_record(path, home, bench):
    bench("u2")
    key = bench_key(home).public
    with open_store(path, "", read_only=True, trust=trust_at(home)) as store:
        (made,) = store.entries(kind=BenchKeyMade.kind)
        assert made.event.public_key == key
        with store.reading() as connection:
            heads = signed_heads.kept(connection, "bench-1")
        filed = [e.seq for e in store.entries(kind="unit.filed")]
        assert [h.size for h in heads] == [made.seq, *filed]
        assert all(head.genuine and head.public_key == key for head in heads)
        assert store.verify().problem == ""


def test_a_head_says_nothing_else_than_what_was_signed(home):
    head = bench_key(home).sign("bench-1", 7, b"\1" * 32, datetime(2026, 1, 1, tzinfo=UTC))
    assert head.genuine
    for changed in ({"size": 8}, {"root": "02" * 32}, {"bench": "b"}, {"utc": head.utc[:-2] + "1Z"},
                    {"public_key": "00" * 32}, {"signature": "zz"}):  # fmt: skip
        assert not replace(head, **changed).genuine
    assert signed_heads.head_from(asdict(head)) == head
    for wrong in ({}, {**asdict(head), "size": 0}, {**asdict(head), "more": "x"}):
        with pytest.raises(ValueError, match="signed head"):
            signed_heads.head_from(wrong)


def test_a_cut_that_fits_in_itself_is_found_without_an_anchor(path, home, bench):
    bench("u2")
    made_anew(path, cut=3)
    assert verdict(path, home).problem.startswith("the journal ends at entry 4, but this bench")
    with pytest.raises(BehindError, match="3 are missing"):
        open_store(path, "bench-1", trust=trust_at(home))


def test_a_journal_rewritten_from_its_first_entry_is_found(path, home, bench):
    made_anew(path)
    assert "rewritten" in verdict(path, home).problem
    with pytest.raises(BehindError, match="rewritten"):
        open_store(path, "bench-1", trust=trust_at(home))


def test_a_file_rolled_back_is_found(path, home, bench, tmp_path):
    kept = tmp_path / "older"
    shutil.copyfile(path, kept)
    bench("u2")
    shutil.copyfile(kept, path)
    assert "3 are missing" in verdict(path, home).problem
    with pytest.raises(BehindError, match="rolled back"):
        open_store(path, "bench-1", trust=trust_at(home))


def test_a_file_that_is_gone_is_not_begun_anew(path, home, bench):
    path.unlink()
    with pytest.raises(BehindError, match="the records are gone"):
        open_store(path, "bench-1", trust=trust_at(home))
    assert not path.exists()


def test_heads_in_the_file_tell_of_a_cut_and_of_a_rewriting(path, home, bench):
    shutil.rmtree(home / FOLDER)
    with open_store(path, "", read_only=True) as store:
        newest = store.head()
    altered(path, f"DELETE FROM journal WHERE seq = {newest[0]}")
    assert "but that was not the last one" in verdict(path, home).problem
    altered(path, "UPDATE meta SET value = (SELECT seq || ':' || hash FROM journal "
                  "ORDER BY seq DESC LIMIT 1) WHERE key = 'head'")  # fmt: skip
    assert "entries were signed" in verdict(path, home).problem


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("root = replace(root, substr(root, 1, 1), 'x')", "not genuine"),
        ("signature = ''", "not genuine"),
        ("utc = replace(utc, '2026', '2025')", "not genuine"),
    ],
)
def test_a_head_that_was_altered_is_found(path, home, bench, change, said):
    altered(path, f"UPDATE tree_head SET {change}")
    assert said in verdict(path, home).problem


def test_a_head_of_a_key_that_is_not_on_record_is_found(path, home, bench, tmp_path):
    with open_store(path, "", read_only=True) as store, store.reading() as connection:
        (first, *_) = signed_heads.kept(connection, "bench-1")
    other = bench_key(tmp_path / "thief").sign(
        "bench-1", first.size, bytes.fromhex(first.root), datetime(2026, 1, 1, tzinfo=UTC)
    )
    altered(path, f"UPDATE tree_head SET public_key = '{other.public_key}', utc = '{other.utc}', "
                  f"signature = '{other.signature}' WHERE size = {first.size}")  # fmt: skip
    assert "not on record" in verdict(path, home).problem


def test_what_a_computer_knows_cannot_be_altered_unseen(path, home, bench):
    (known,) = (home / FOLDER).iterdir()
    known.write_text(known.read_text().replace('"size": 4', '"size": 3'))
    with pytest.raises(StoreError, match="damaged or was altered"):
        verdict(path, home)


def test_a_person_may_go_on_and_that_is_on_record(path, home, bench, add, lot):
    bench("u2")
    made_anew(path, cut=3)
    said = Acceptance("lea", "the disk failed, the units are on paper")
    with open_store(path, "bench-1", trust=trust_at(home), accepted=said) as store:
        (entry,) = store.entries(kind=LossAccepted.kind)
        assert (entry.person, entry.event.kept, entry.event.known) == ("lea", 4, 7)
        add(lot("L-9"), to=store)
    assert verdict(path, home).problem == ""
    open_store(path, "bench-1", trust=trust_at(home)).close()


def test_another_computers_key_does_not_go_on_unseen(path, home, bench, tmp_path):
    with pytest.raises(BehindError, match="another key signed these records"):
        open_store(path, "bench-1", trust=trust_at(tmp_path / "other computer"))


def test_a_copy_made_by_the_program_is_sound_and_one_made_by_hand_is_not(
    path, home, bench, tmp_path, add, lot
):
    made, by_hand = tmp_path / "made.sqlite", tmp_path / "by_hand.sqlite"
    with open_store(path, "bench-1", trust=trust_at(home)) as store:
        store.back_up(made)
        add(lot("L-5"), to=store)
        shutil.copyfile(path, by_hand)
    assert verdict(made, home).problem == ""
    assert "copied while a program had it open" in verdict(by_hand, home).problem


def test_a_known_head_that_the_mains_took_is_as_good_as_none(path, home, bench):
    (known,) = (home / FOLDER).iterdir()
    known.write_bytes(b"")
    with pytest.raises(BehindError, match="is gone"):
        open_store(path, "bench-1", trust=trust_at(home))


def test_the_folder_of_known_heads_cannot_be_taken_away_unseen(path, home, bench):
    shutil.rmtree(home / FOLDER)
    assert "note of its last signed head is gone" in verdict(path, home).problem
    with pytest.raises(BehindError, match="is gone"):
        open_store(path, "bench-1", trust=trust_at(home))
    said = Acceptance("lea", "the disk of the settings was replaced")
    with open_store(path, "bench-1", trust=trust_at(home), accepted=said) as store:
        assert [e.person for e in store.entries(kind=LossAccepted.kind)] == ["lea"]
    open_store(path, "bench-1", trust=trust_at(home)).close()
    assert verdict(path, home).problem == ""


def test_a_cut_with_the_heads_taken_away_is_found_by_the_newest_copy(
    path, home, bench, tmp_path, add, lot
):
    copies = tmp_path / "copies"
    bench("u2")
    make_copy(path, copies, NOW)
    made_anew(path, cut=3)
    shutil.rmtree(home / FOLDER)
    raw = sqlite3.connect(path)
    (kept,) = raw.execute("SELECT count(*) FROM journal").fetchone()
    raw.close()
    # What the thief would have to write with the key of the bench, to be believed without a copy.
    with open_store(path, "bench-1", read_only=True) as store, store.reading() as connection:
        newest = signed_heads.newest(connection, "bench-1")
        first = store.entries()[0].hash
    assert newest.size == kept
    KnownHeads(home).keep(path, first, newest)
    assert verdict(path, home).problem == ""
    trust = trust_at(home, [copies])
    with open_store(path, "", read_only=True, trust=trust) as store:
        assert "3 are missing" in store.verify().problem
    with pytest.raises(BehindError, match="3 are missing"):
        open_store(path, "bench-1", trust=trust)
    said = Acceptance("lea", "seen")
    open_store(path, "bench-1", trust=trust, accepted=said).close()
    open_store(path, "bench-1", trust=trust).close()
    with open_store(path, "", read_only=True, trust=trust) as store:
        assert store.verify().problem == ""


def test_a_copy_that_cannot_be_read_or_is_away_stops_nothing(path, home, bench, tmp_path):
    copies = tmp_path / "copies"
    make_copy(path, copies, NOW).path.write_bytes(b"rubbish")
    trust = trust_at(home, [copies, tmp_path / "away"])
    open_store(path, "bench-1", trust=trust).close()


def test_two_rows_swapped_with_all_else_made_to_fit_are_found(path, home, bench):
    altered(path, "UPDATE journal SET seq = seq + 100 WHERE seq IN (2, 3)",
            "UPDATE journal SET seq = 105 - seq WHERE seq > 100")  # fmt: skip
    made_anew(path, words=("-", "-"))
    assert "rewritten" in verdict(path, home).problem


def test_a_journal_signed_again_with_another_key_is_found(path, home, bench, tmp_path):
    made_anew(path)
    thief = bench_key(tmp_path / "thief")
    with open_store(path, "", read_only=True) as store, store.reading() as connection:
        size = store.head()[0]
        root = tree_rows.frontier(connection, "bench-1", size).root()
    forged = thief.sign("bench-1", size, root, NOW)
    raw = sqlite3.connect(path)
    raw.execute("INSERT INTO tree_head VALUES (?,?,?,?,?,?)", list(forged.as_data().values()))
    raw.commit()
    raw.close()
    assert "not on record" in verdict(path, home).problem
    with pytest.raises(BehindError, match="rewritten"):
        open_store(path, "bench-1", trust=trust_at(home))


def test_the_start_reads_few_nodes_however_long_the_journal_is(path, home, bench, add, lot):
    with open_store(path, "bench-1", trust=trust_at(home)) as store:
        add(*(lot(f"L-{n}") for n in range(4000)), to=store)
        read = []
        real = tree_rows.node_at

        def counted(connection, bench):
            node = real(connection, bench)
            return lambda level, number: read.append(level) or node(level, number)

        with store.reading() as connection, pytest.MonkeyPatch.context() as patched:
            patched.setattr(tree_rows, "node_at", counted)
            for head in signed_heads.kept(connection, "bench-1"):
                assert lack_of(connection, "bench-1", head) is None
            heads = len(signed_heads.kept(connection, "bench-1"))
    assert 0 < len(read) <= heads * 3 * (4000).bit_length()


def test_a_node_of_the_way_that_was_changed_is_found_at_the_start(path, home, bench, add, lot):
    with open_store(path, "bench-1", trust=trust_at(home)) as store:
        known = trust_at(home).known.of(path, "").head
        add(*(lot(f"L-{n}") for n in range(20)), to=store)
    altered(path, "UPDATE tree_node SET hash = zeroblob(32) WHERE level = 3")
    with open_store(path, "", read_only=True) as store, store.reading() as connection:
        assert lack_of(connection, "bench-1", known).rewritten
