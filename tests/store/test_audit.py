"""The audit trail: every entry once, by kind, person, unit and time, across several chains."""

from datetime import timedelta

import pytest

from benchstation.domain.events import PersonPrefers, RebuildOpened, StepSigned
from benchstation.store import audit
from benchstation.store.audit import Wanted, each_entry, page_of
from tests.store.conftest import START


@pytest.fixture
def written(store):
    """Sixty entries, one an hour, by two people, of two units and of none."""
    for n in range(60):
        event = PersonPrefers("p", text_scale=n)
        if n % 3 == 1:
            event = (
                RebuildOpened("u1", "MR-1", "MR", "s", 1, "L")
                if n == 1
                else StepSigned("u1", f"step{n}")
            )
        person = "anna" if n % 10 else "ben"
        store.append([event], person=person, utc=START + timedelta(hours=n))
    return store.entries()


def paged(store, wanted, limit):
    found, before = [], ""
    for _ in range(200):
        page = page_of(store, wanted, before=before, limit=limit)
        found += page.entries
        before = page.before
        if not before:
            return found
    raise AssertionError("the pages do not end")


@pytest.mark.parametrize(
    "wanted",
    [
        Wanted(),
        Wanted(kinds=("step.signed",)),
        Wanted(kinds=("step.signed", "unit.opened", "air.read")),
        Wanted(people=("ben",)),
        Wanted(people=("ben", "anna"), kinds=("person.prefers",)),
        Wanted(unit_id="u1"),
        Wanted(unit_id="u1", kinds=("step.signed",), people=("anna",)),
        Wanted(since=START + timedelta(hours=7), until=START + timedelta(hours=31)),
        Wanted(until=START), Wanted(since=START + timedelta(days=9)), Wanted(people=("nobody",)),
    ],
)  # fmt: skip
@pytest.mark.parametrize(("limit", "looked_at"), [(7, 4_000), (60, 11), (3, 5)])
def test_every_entry_that_fits_is_found_once(store, written, monkeypatch, wanted, limit, looked_at):
    monkeypatch.setattr(audit, "LOOKED_AT", looked_at)
    fits = [
        entry.seq
        for entry in reversed(written)
        if (not wanted.kinds or entry.kind in wanted.kinds)
        and (not wanted.people or entry.person in wanted.people)
        and (not wanted.unit_id or getattr(entry.event, "unit_id", "") == wanted.unit_id)
        and (wanted.since is None or entry.utc >= wanted.since)
        and (wanted.until is None or entry.utc < wanted.until)
    ]
    assert [entry.seq for entry in paged(store, wanted, limit)] == fits
    assert [entry.seq for entry in each_entry(store, wanted)] == fits


def test_a_place_that_is_none_is_refused(store):
    for text in ("[]", '{"bench-1": "a"}'):
        with pytest.raises(ValueError, match="no place"):
            page_of(store, Wanted(), before=text)
