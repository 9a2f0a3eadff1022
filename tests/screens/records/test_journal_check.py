"""The check of the journal, from any thread: how far it is, what it found, and when."""

import sqlite3

import pytest

from benchstation.domain.events import PersonPrefers
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import local_time
from benchstation.screens.model.elements import Tone
from benchstation.screens.records.journal_check import JournalCheck
from benchstation.store.engine import open_store
from benchstation.store.errors import StoreCorruptError
from tests.stepped_bench import START


@pytest.fixture
def path(tmp_path):
    """Records of 600 entries."""
    with open_store(tmp_path / "records.sqlite", "bench-1") as store:
        events = [PersonPrefers("p", text_scale=n) for n in range(600)]
        store.append(events, person="p", utc=START)
    return tmp_path / "records.sqlite"


@pytest.fixture
def check(path):
    with open_store(path, "bench-1") as store:
        yield JournalCheck(store, lambda: START)


def test_nothing_is_said_before_the_first(check):
    assert check.view().words == ""
    assert check.view().share is None


def test_sound_with_its_head_number_of_entries_and_time(check):
    check.begin()
    assert check.view().share == 0.0
    said = check.run()
    assert said == check.view().words
    seq, head = check.store.head()
    when = local_time(START, seconds=True)
    assert said == f"Sound: 600 entries, checked {when}. Head: entry {seq}, {head[:16]}..."
    assert check.view().tone is Tone.GOOD
    assert check.view().share is None


def test_it_tells_how_far_it_is(check, monkeypatch):
    seen = []
    progress = check.progress
    monkeypatch.setattr(check, "progress", lambda *n: (progress(*n), seen.append(check.view())))
    check.begin()
    check.run()
    assert [view.share for view in seen] == [256 / 600, 512 / 600, 1.0]
    assert "256 of 600" in seen[0].words
    assert "searched tables" in seen[-1].words


def test_what_is_wrong_stays_with_how_far_it_was_read(check, path):
    with sqlite3.connect(path) as spoilt:
        spoilt.execute("DROP TRIGGER journal_no_update")
        spoilt.execute("UPDATE journal SET person = 'somebody' WHERE seq = 300")
    spoilt.close()
    check.begin()
    with pytest.raises(StoreCorruptError, match="NOT SOUND"):
        check.run()
    view = check.view()
    assert view.words.startswith("NOT SOUND, checked 2026-03-0")
    assert "entry 300" in view.words
    assert "Read up to entry 299" in view.words
    assert "tell QA" in view.words
    assert (view.tone, view.share) == (Tone.DANGER, None)


def test_stopped_is_neither_sound_nor_wrong(check, monkeypatch):
    check.begin()
    check.stop()
    assert "was stopped" in check.run()
    assert check.view().tone is Tone.CAUTION
    check.begin()
    assert check.run().startswith("Sound")


def test_what_is_wrong_is_said_even_when_it_was_stopped_just_then(check, path, monkeypatch):
    """The stop came after the pass had found it: it must not be taken for the stop."""
    verify = check.store.verify

    def late(*given):
        result = verify()
        check.stop()
        return result

    with sqlite3.connect(path) as spoilt:
        spoilt.execute("DROP TRIGGER journal_no_update")
        spoilt.execute("UPDATE journal SET person = 'somebody' WHERE seq = 300")
    spoilt.close()
    monkeypatch.setattr(check.store, "verify", late)
    check.begin()
    with pytest.raises(StoreCorruptError):
        check.run()
    assert check.view().tone is Tone.DANGER


def test_a_check_that_cannot_be_made_says_so(check):
    check.store.close()
    check.begin()
    with pytest.raises(StationError):
        check.run()
    assert check.view().words.startswith("The journal could not be checked")
    assert check.view().share is None
