import pytest
from sqlalchemy import create_engine, select
from sqlalchemy.pool import StaticPool

from benchstation.store import journal
from benchstation.store.canonical import canonical
from benchstation.store.row_check import RowError, checked, require_chained
from benchstation.store.schema import journal as table


@pytest.fixture
def rows(add, store, opening, lot):
    add(lot(), opening())
    with store.reading() as connection:
        return list(journal.rows(connection, "bench-1"))


def changed(row, **values):
    """Return the row with other values, as a database would hand it out."""
    engine = create_engine("sqlite://", poolclass=StaticPool)
    table.create(engine)
    with engine.begin() as connection:
        connection.execute(table.insert(), {**row._asdict(), **values})
        found = connection.execute(select(table)).one()
    engine.dispose()
    return found


def rehashed(row, **values):
    """Return the row with other values and the hash that they have."""
    new = {**row._asdict(), **values}
    parts = ("bench", "seq", "utc", "person", "kind", "body", "prev")
    return changed(row, **values, hash=journal.hash_of(*(new[name] for name in parts)))


def test_rows_as_they_were_written_pass(rows):
    first, second = rows
    assert checked(first, (0, journal.GENESIS)).event.lot == "L-0417"
    assert checked(second, (1, first.hash)).event.serial == "MR-2231"


@pytest.mark.parametrize(
    ("last", "words"),
    [((1, journal.GENESIS), "something between is missing"), ((0, "f" * 64), "does not follow")],
)
def test_a_row_in_another_place_is_refused(rows, last, words):
    with pytest.raises(RowError, match=words):
        require_chained(rows[0], last)


@pytest.mark.parametrize(
    "values",
    [
        {"person": "cleo"},
        {"kind": "order.placed"},
        {"body": b"{}"},
        {"utc": "2026-01-31T12:00:00.000000Z"},
    ],
)
def test_a_row_that_was_altered_is_refused(rows, values):
    with pytest.raises(RowError, match="does not match its hash"):
        require_chained(changed(rows[0], **values), (0, journal.GENESIS))


def test_a_row_whose_hash_was_made_to_fit_must_still_be_one_of_ours(rows):
    last = (0, journal.GENESIS)
    with pytest.raises(RowError, match="cannot be read"):
        checked(rehashed(rows[0], kind="no.such"), last)
    with pytest.raises(RowError, match="cannot be read"):
        checked(rehashed(rows[0], body=canonical({"lot": "x"})), last)
    with pytest.raises(RowError, match="canonical form"):
        checked(rehashed(rows[0], body=rows[0].body.replace(b",", b", ")), last)
    with pytest.raises(RowError, match="listed under another unit"):
        checked(changed(rows[0], unit_id="u9"), last)
