import sqlite3

import numpy as np
import pytest

from benchstation.domain.events import HoldTested
from benchstation.store.errors import NotOnRecordError, NotStorableError, StoreCorruptError


def hold(sha256):
    return HoldTested("u1", "charge", 1.5e6, 1.5e6, 30.0, 1e-6, 1e-6, 1e-4, "pass", sha256)


def count(store):
    with store.reading() as connection:
        return connection.exec_driver_sql("SELECT count(*) FROM trace").scalar()


def test_a_trace_is_kept_and_given_back(store, add, opening, trace):
    kept = trace()
    add(opening(), hold(kept.sha256), traces=[kept])
    back = store.get_trace(kept.sha256)
    assert np.array_equal(back.channels["gauge_pa"], kept.channels["gauge_pa"])
    assert (back.units, back.t0_utc, back.note) == (kept.units, kept.t0_utc, kept.note)


def test_the_same_trace_is_kept_once(store, add, opening, trace):
    add(opening(), hold(trace().sha256), traces=[trace(), trace()])
    add(hold(trace().sha256), traces=[trace(), trace(seed=1)])
    add(hold(trace().sha256))
    assert count(store) == 2
    assert len(store.entries()) == 4


def test_an_event_may_not_refer_to_a_trace_that_is_not_there(store, add, opening, trace):
    with pytest.raises(NotStorableError, match="not on record"):
        add(opening(), hold("ab" * 32), traces=[trace()])
    assert (store.head()[0], count(store)) == (0, 0)


def test_a_trace_alone_is_kept_too(store, add, trace):
    assert add(traces=[trace()]) == []
    assert count(store) == 1


def test_an_unknown_trace_is_said_in_words(store):
    with pytest.raises(NotOnRecordError, match="no trace 'abababababab'"):
        store.get_trace("ab" * 32)


def test_a_damaged_trace_is_said_in_words(store, add, trace):
    add(traces=[trace()])
    raw = sqlite3.connect(store.path, isolation_level=None)
    raw.execute("DROP TRIGGER trace_no_update")
    raw.execute("UPDATE trace SET data = x'00'")
    raw.close()
    with pytest.raises(StoreCorruptError, match="do not match its name"):
        store.get_trace(trace().sha256)
