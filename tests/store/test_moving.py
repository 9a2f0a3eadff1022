"""A bench goes to another computer: nothing is lost, and never two write, however it is stopped."""

import shutil
from datetime import UTC, datetime

import pytest

from benchstation.domain.events import BenchMoved
from benchstation.store import moving
from benchstation.store.bench_key import KEY_FILE, BenchKeyError, bench_key
from benchstation.store.engine import open_store
from benchstation.store.errors import BehindError, MovedError, StoreCorruptError, StoreError
from benchstation.store.known_heads import KnownHeads
from benchstation.store.moving import (
    BESIDE,
    RECORDS,
    SEALED,
    forget_key,
    is_written,
    move_out,
    take_over,
)
from benchstation.store.trust import Acceptance, Accepted, trust_at

NOW = datetime(2026, 3, 4, 17, tzinfo=UTC)
PHRASE = "correct horse battery"


class Stopped(BaseException):
    """The program is killed here."""


@pytest.fixture
def old(tmp_path, add, lot, opening, filing):
    """The old computer's home and records, with a filed unit."""
    home, path = tmp_path / "old", tmp_path / "old" / "data" / "rebuilds.sqlite"
    with open_store(path, "bench-1", trust=trust_at(home)) as store:
        add(lot(), opening(), to=store)
        add(filing(), to=store)
    return home, path


@pytest.fixture
def new(tmp_path):
    return tmp_path / "new", tmp_path / "new" / "data" / "rebuilds.sqlite"


def out(old, folder):
    home, path = old
    if is_written(path, folder) is None:
        trust = trust_at(home)
        move_out(path, folder, trust, "lea", "a new computer", PHRASE,
                 {"settings.json": b"{}", "profiles/mine.toml": b"# mine"}, NOW)  # fmt: skip
    forget_key(home)


def take(folder, new, phrase=PHRASE):
    home, path = new
    return take_over(folder, path, home, phrase, {"settings.json": b'{"shop": "x"}'}, NOW)


def opens(place):
    home, path = place
    return open_store(path, "bench-1", trust=trust_at(home))


def test_all_of_a_bench_goes_and_the_old_one_is_closed(old, new, tmp_path, add, lot):
    folder, key = tmp_path / "move", bench_key(old[0]).public
    out(old, folder)
    with pytest.raises(MovedError, match=r"the bench was moved to .*move on 2026-03-04"):
        opens(old)
    said = Acceptance("lea", "no matter")
    with pytest.raises(MovedError):
        open_store(old[1], "bench-1", trust=trust_at(old[0]), accepted=said)
    with open_store(old[1], "", read_only=True) as store:
        (fact,) = store.entries(kind=BenchMoved.kind)
        assert (fact.person, fact.event.reason) == ("lea", "a new computer")
        assert store.verify(known=KnownHeads(old[0])).problem == ""
    assert take(folder, new).entries == 5
    assert bench_key(new[0]).public == key
    assert (new[0] / "settings.json").read_bytes() == b'{"shop": "x"}'
    assert (new[0] / "profiles" / "mine.toml").read_bytes() == b"# mine"
    with opens(new) as store:
        add(lot("L-9"), to=store)
        assert store.verify().problem == ""


def test_the_private_key_goes_with_the_move_alone_and_sealed(old, new, tmp_path):
    folder, private = tmp_path / "move", (old[0] / KEY_FILE).read_bytes()
    out(old, folder)
    assert not (old[0] / KEY_FILE).exists()
    for file in (f for f in folder.rglob("*") if f.is_file()):
        assert private.splitlines()[1] not in file.read_bytes()
    assert b"ENCRYPTED" in (folder / SEALED).read_bytes()
    with pytest.raises(BenchKeyError, match="passphrase is another"):
        take(folder, new, "another one")
    assert not new[1].exists()


def test_without_the_passphrase_a_lead_signs_for_a_new_key(old, new, tmp_path):
    out(old, tmp_path / "move")
    take(tmp_path / "move", new, "")
    with pytest.raises(BehindError, match="another key signed"):
        opens(new)
    said = Acceptance("lea", "the passphrase was lost", Accepted.KEY)
    open_store(new[1], "bench-1", trust=trust_at(new[0]), accepted=said).close()
    with opens(new) as store:
        assert store.verify().problem == ""


STEPS = {
    "the file closed": (moving, "_set_moved"),
    "the copy": (moving.migrations, "back_up"),
    "a file beside it": (moving, "write_private"),
    "the key sealed": (moving, "sealed"),
    "the key removed": (moving.Path, "unlink"),
    "the folder named": (moving.Path, "rename"),
}


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize(("where", "name"), STEPS.values(), ids=STEPS)
def test_a_move_that_is_killed_is_run_again(old, new, tmp_path, monkeypatch, where, name, after):
    folder, real = tmp_path / "move", getattr(where, name)
    monkeypatch.setattr(where, name, stopping(real, after=after))
    with pytest.raises(Stopped):
        out(old, folder)
    monkeypatch.undo()
    with open_store(old[1], "", read_only=True) as store:
        assert store.verify(known=KnownHeads(old[0])).problem == ""
    out(old, folder)
    assert not (old[0] / KEY_FILE).exists()
    with pytest.raises(MovedError):
        opens(old)
    assert take(folder, new).entries == 5
    opens(new).close()


def stopping(real, *, after):
    def step(*given, **named):
        if not after:
            raise Stopped
        real(*given, **named)
        raise Stopped

    return step


TAKEN = {
    "the claim": (moving, "_claim"),
    "a file beside it": (moving, "_put"),
    "the known head": (KnownHeads, "keep"),
    "the copy": (moving.shutil, "copyfile"),
    "the mark": (moving, "_set_moved"),
    "in place": (moving, "put_in_place"),
}


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize(("where", "name"), TAKEN.values(), ids=TAKEN)
def test_a_taking_that_is_killed_is_run_again(old, new, tmp_path, monkeypatch, where, name, after):
    folder = tmp_path / "move"
    out(old, folder)
    monkeypatch.setattr(where, name, stopping(getattr(where, name), after=after))
    with pytest.raises(Stopped):
        take(folder, new)
    monkeypatch.undo()
    if (where, name, after) != (moving, "put_in_place", True):
        assert not new[1].exists()
        assert take(folder, new).entries == 5
    with opens(new) as store:
        assert store.verify().problem == ""


def test_a_bench_is_taken_by_one_computer(old, new, tmp_path):
    out(old, tmp_path / "move")
    take(tmp_path / "move", new)
    other = tmp_path / "other", tmp_path / "other" / "data" / "rebuilds.sqlite"
    with pytest.raises(MovedError, match="another computer took this bench over"):
        take(tmp_path / "move", other)
    with pytest.raises(StoreError, match="there are records on this computer already"):
        take(tmp_path / "move", new)


def test_it_comes_back_where_nobody_took_it(old, new, tmp_path, add, lot):
    out(old, tmp_path / "move")
    take(tmp_path / "move", old)
    with opens(old) as store:
        add(lot("L-9"), to=store)
        assert store.verify().problem == ""
    with pytest.raises(MovedError, match="another computer took"):
        take(tmp_path / "move", new)


def test_what_stood_on_the_new_computer_is_set_aside(old, new, tmp_path):
    bench_key(new[0])
    own = (new[0] / KEY_FILE).read_bytes()
    (new[0] / "settings.json").write_bytes(b'{"shop": "mine"}')
    out(old, tmp_path / "move")
    aside = take(tmp_path / "move", new).set_aside
    assert {file.read_bytes() for file in aside} == {own, b'{"shop": "mine"}'}


def test_a_folder_that_was_damaged_on_the_way_is_refused(old, new, tmp_path):
    out(old, tmp_path / "move")
    for name in (RECORDS, "move.json"):
        spoilt = tmp_path / f"spoilt {name}"
        shutil.copytree(tmp_path / "move", spoilt)
        data = bytearray((spoilt / name).read_bytes())
        data[data.index(b"bench-1")] ^= 1
        (spoilt / name).write_bytes(data)
        with pytest.raises((StoreCorruptError, StoreError)):
            take(spoilt, new)
        assert not new[1].exists()
    assert (tmp_path / "move" / BESIDE / "settings.json").is_file()


def test_other_records_are_not_replaced(old, new, tmp_path, add, lot):
    with open_store(new[1], "bench-1", trust=trust_at(new[0])) as store:
        add(lot(), to=store)
    out(old, tmp_path / "move")
    with pytest.raises(StoreError, match="there are records on this computer"):
        take(tmp_path / "move", new)
