"""A program that is too old for a file says so before it changes or shows anything of it."""

import dataclasses
import hashlib
import sqlite3
from typing import ClassVar

import pytest

from benchstation.domain.events import EVENT_TYPES, Event, PersonPrefers, RebuildAbandoned
from benchstation.domain.events.upgrades import UPGRADES
from benchstation.store import projections
from benchstation.store.engine import open_store
from benchstation.store.errors import NewerStoreError, NotInOrderError, StoreCorruptError


@dataclasses.dataclass(frozen=True, slots=True)
class LotRecalled(Event):
    kind: ClassVar[str] = "oil.recalled"
    lot: str


@dataclasses.dataclass(frozen=True, slots=True)
class PersonPrefersAgain(Event):
    kind: ClassVar[str] = PersonPrefers.kind
    form: ClassVar[int] = 2
    people: tuple[str, ...]


@pytest.fixture
def newer(monkeypatch):
    """Be a newer program for a while: one more kind of event, and another form of a known kind."""
    with monkeypatch.context() as patch:
        patch.setitem(EVENT_TYPES, LotRecalled.kind, LotRecalled)
        patch.setitem(EVENT_TYPES, PersonPrefers.kind, PersonPrefersAgain)
        way = (PersonPrefers.kind, 1)
        patch.setitem(UPGRADES, way, lambda body: {"people": (body["person_id"],)})
        patch.setattr("benchstation.domain.events.reading._ADAPTERS", {})
        yield patch


def digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


@pytest.mark.parametrize(
    ("event", "said"),
    [
        (LotRecalled("L-1"), "'oil.recalled' that this version does not know"),
        (PersonPrefersAgain(("kim",)), "'person.prefers' of form 2; .* up to form 1"),
    ],
)
@pytest.mark.parametrize("read_only", [True, False])
def test_a_file_of_a_newer_program_is_refused_and_left_as_it_is(
    store, add, lot, newer, event, said, read_only
):
    add(lot("L-1"), PersonPrefers("kim"))
    add(event)
    verified = store.verify()
    assert (verified.problem, verified.entries) == ("", 3)
    store.close()
    newer.undo()
    # Also where the searched tables would be made again.
    newer.setattr(projections, "VERSION", f"{projections.VERSION}, later")
    before = digest(store.path)
    with pytest.raises(NewerStoreError, match=said) as raised:
        open_store(store.path, "", read_only=read_only)
    assert raised.value.where == str(store.path)
    assert raised.value.advice == "Update this program; the file is left as it is."
    assert digest(store.path) == before
    assert not list(store.path.parent.glob("*backup*"))


def test_the_older_form_is_read_by_the_newer_program_and_its_hash_still_fits(
    store, add, lot, newer
):
    newer.undo()
    add(lot("L-1"), PersonPrefers("kim"))
    head = store.head()
    newer.setitem(EVENT_TYPES, PersonPrefers.kind, PersonPrefersAgain)
    newer.setitem(UPGRADES, (PersonPrefers.kind, 1), lambda body: {"people": (body["person_id"],)})
    newer.setattr("benchstation.domain.events.reading._ADAPTERS", {})
    (entry,) = store.entries(kind=PersonPrefers.kind)
    assert entry.event == PersonPrefersAgain(("kim",))
    assert store.verify().problem == ""
    assert store.head() == head


def test_the_form_stands_inside_what_is_hashed(store, add, newer):
    add(PersonPrefersAgain(("kim",)))
    store.close()
    raw = sqlite3.connect(store.path)
    (body,) = raw.execute("SELECT body FROM journal").fetchone()
    raw.execute("DROP TRIGGER journal_no_update")
    raw.execute("UPDATE journal SET body = ?", (body.replace(b'"form":2', b'"form":3'),))
    raw.commit()
    raw.close()
    assert b'"form":2' in body
    with open_store(store.path, "bench-1", read_only=True) as again:
        assert "was altered" in again.verify().problem


def test_what_failed_is_not_listed(store, add, lot, newer):
    with pytest.raises(NotInOrderError):
        add(LotRecalled("L-1"), RebuildAbandoned("u9", "was never opened"))
    add(lot("L-1"))
    store.close()
    newer.undo()
    with open_store(store.path, "") as again:
        assert [entry.kind for entry in again.entries()] == ["oil.received"]


@pytest.mark.parametrize("damaged", ["{", "3", '["a"]', "[1]"])
def test_a_damaged_list_is_worded(tmp_path, damaged):
    path = tmp_path / "damaged.db"
    open_store(path, "b").close()
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("UPDATE meta SET value = ? WHERE key = 'forms'", [damaged])
    raw.close()
    with pytest.raises(StoreCorruptError, match="list of what this file holds is damaged"):
        open_store(path, "b", read_only=True)
