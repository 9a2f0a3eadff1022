import sqlite3

import pytest
from sqlalchemy.exc import IntegrityError, OperationalError

from benchstation.driver_api.errors import StationError
from benchstation.store import errors
from benchstation.store.errors import StoreError, in_words, worded


def failure(code, kind=sqlite3.OperationalError):
    error = kind("sql text")
    error.sqlite_errorcode = code
    return error


# Result codes from https://sqlite.org/rescode.html, extended ones included.
CODES = {
    5: "StoreLockedError", 517: "StoreLockedError", 6: "StoreLockedError", 13: "StoreFullError",
    8: "StoreReadOnlyError", 1032: "StoreReadOnlyError", 3: "StoreReadOnlyError",
    11: "StoreCorruptError", 267: "StoreCorruptError", 26: "StoreCorruptError", 14: "StoreError",
    10: "StoreError", 778: "StoreError",
}  # fmt: skip


@pytest.mark.parametrize(("code", "name"), CODES.items())
@pytest.mark.parametrize("wrap", [False, True])
def test_what_the_world_does_is_said_in_words(code, name, wrap):
    error = failure(code)
    if wrap:
        error = OperationalError("INSERT", {}, error)
    with pytest.raises(StoreError) as caught, in_words("records.db"):
        raise error
    assert type(caught.value).__name__ == name
    assert caught.value.where == "records.db"
    assert caught.value.advice
    assert "sql text" not in str(caught.value)
    assert "sql text" in caught.value.detail


@pytest.mark.parametrize("code", [1, 19, 20, 21, 25])
def test_a_mistake_of_ours_stays_one(code):
    error = failure(code, sqlite3.IntegrityError)
    assert worded(error, "") is None
    with pytest.raises(IntegrityError), in_words(""):
        raise IntegrityError("INSERT", {}, error)


def test_other_errors_pass():
    assert worded(KeyError("x"), "") is None
    with pytest.raises(KeyError), in_words(""):
        raise KeyError("x")


def test_every_kind_is_in_the_tree_of_the_docstring():
    kinds = [k for k in vars(errors).values() if isinstance(k, type) and issubclass(k, StoreError)]
    assert len(kinds) == 12
    for kind in kinds:
        assert kind.__name__ in errors.__doc__
        assert issubclass(kind, StationError)
