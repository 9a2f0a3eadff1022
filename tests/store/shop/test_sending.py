import dataclasses
import sqlite3
from hashlib import sha256

import pytest
from sqlalchemy import text

from benchstation.domain.events import (
    Adopted,
    Conflicted,
    OrderedUnit,
    OrderPlaced,
    PersonEnrolled,
    PersonLeft,
    PhotoTaken,
    RebuildAbandoned,
    RebuildOpened,
)
from benchstation.domain.shop_chain import SHOP, kept_of
from benchstation.store import journal, schema, signed_heads
from benchstation.store.connections import reading_engine
from benchstation.store.engine import open_store
from benchstation.store.errors import StoreCorruptError
from benchstation.store.shop import batches, sending
from benchstation.store.shop.adopting import KINDS
from benchstation.store.shop.errors import ForkError
from tests.store.shop.conftest import NOW, chain_at, shop_events


def test_what_the_shop_has_is_what_the_bench_has_byte_by_byte(bench, shop):
    bench.work(3)
    sent = bench.send()
    assert sent.entries == bench.store.head()[0] == 12
    assert sent.head == bench.store.head()
    assert chain_at(shop, bench.name) == bench.rows()
    with shop.owner.connect() as there, bench.store.reading() as here:
        assert signed_heads.kept(there, bench.name) == signed_heads.kept(here, bench.name) != []
        query = schema.trace.select().order_by(schema.trace.c.sha256)
        traces = [tuple(row) for row in there.execute(query)]
        assert len(traces) == 3
        assert traces == [tuple(row) for row in here.execute(query)]


def test_sending_again_sends_nothing_twice(bench, shop):
    bench.work()
    first = bench.send()
    again = bench.send(first.head)
    assert (again.entries, again.heads, again.head) == (0, 0, first.head)
    bench.file_unit()
    assert bench.send(again.head).entries == 3
    assert bench.send().entries == 0
    assert chain_at(shop, bench.name) == bench.rows()


def test_a_transaction_that_is_not_committed_leaves_nothing(bench, shop):
    bench.work()
    with bench.engine.connect() as there, bench.store.reading() as local:
        sending.send_batch(there, local, bench.name, None, NOW)
        there.rollback()
    assert chain_at(shop, bench.name) == []
    assert shop.rows("SELECT count(*) FROM trace") == [(0,)]
    assert bench.send().entries == 6


def test_batches_end_by_bytes_and_one_entry_is_always_sent(bench, shop, monkeypatch):
    bench.work(4)
    with bench.store.reading() as local:
        monkeypatch.setattr(batches, "ROWS_A_PAGE", 2)
        some = batches.next_batch(local, bench.name, 3)
        assert [row.seq for row in some.rows] == list(range(4, bench.store.head()[0] + 1))
        assert len(some.names["trace"]) == 4
        assert batches.next_batch(local, bench.name, bench.store.head()[0]).rows == []
        one = batches.next_batch(local, bench.name, 4, 1)
        assert [row.seq for row in one.rows] == [5]
        bodies = {row.seq: len(row.body) for row in some.rows}
        least = min(local.execute(text("SELECT length(data) FROM trace")).scalars())
        # The bodies alone would fit, but not the trace that the second charge names.
        room = sum(bodies[seq] for seq in (5, 6, 7, 8)) + 2 * least - 1
        two = batches.next_batch(local, bench.name, 4, room)
        assert [row.seq for row in two.rows] == [5, 6, 7]


def test_content_that_is_there_already_is_not_sent_again(bench, shop, joined):
    picture = b"one photograph, of two benches"
    name = sha256(picture).hexdigest()
    other = joined("bench-2")
    for one in (bench, other):
        one.add(RebuildOpened("u", "MR-1", "MR 46", "mr-46", 3, "L-1"))
        taken = PhotoTaken("u", "oil", name, len(picture), "image/png", "")
        one.add(taken, photos={name: picture})
        one.send()
    assert shop.rows("SELECT count(*) FROM photo") == [(1,)]


def test_a_server_that_lost_its_newest_commits_is_fed_from_what_it_holds(bench, shop):
    bench.work(2)
    first = bench.send()
    with shop.owner.begin() as owner:
        for table in ("journal", "tree_head"):
            owner.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER USER"))
        owner.execute(text("DELETE FROM journal WHERE seq > 5 AND bench = 'bench-1'"))
        owner.execute(text("DELETE FROM tree_head WHERE size > 5"))
        for table in ("journal", "tree_head"):
            owner.execute(text(f"ALTER TABLE {table} ENABLE TRIGGER USER"))
    sent = bench.send(first.head)
    assert (sent.lost, sent.entries) == (4, 4)
    assert chain_at(shop, bench.name) == bench.rows()
    # What the shop's own chain said of these entries it says once.
    judged = [(e.bench, e.seq) for e in shop_events(shop) if isinstance(e, Adopted)]
    assert len(judged) == len(set(judged)) == 2


def rewritten(bench, seq):
    """Let the bench's journal have other entries from a number on, as after a bad restore."""
    bench.store.close()
    raw = sqlite3.connect(bench.path)
    for name, _ in raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"):
        raw.execute(f"DROP TRIGGER {name}")
    rows = raw.execute("SELECT * FROM journal ORDER BY seq").fetchall()
    prev = rows[seq - 2][8]
    for row in rows[seq - 1 :]:
        own = journal.hash_of(row[0], row[1], row[2], "cleo", row[4], row[6], prev)
        raw.execute(
            "UPDATE journal SET person = 'cleo', prev = ?, hash = ? WHERE seq = ?",
            (prev, own, row[1]),
        )
        prev = own
    raw.commit()
    raw.close()


@pytest.mark.parametrize("seq", [2, 5, 9])
@pytest.mark.parametrize("known", [True, False])
def test_another_entry_under_a_number_that_was_sent_is_a_fork(bench, shop, seq, known):
    bench.work(2)
    sent = bench.send()
    before = chain_at(shop, bench.name)
    rewritten(bench, seq)
    engine = reading_engine(bench.path)
    with bench.engine.begin() as there, engine.connect() as local:
        with pytest.raises(ForkError) as caught:
            sending.send_batch(there, local, bench.name, sent.head if known else None, NOW)
        fork = caught.value
        assert fork.seq == seq
        assert fork.there == before[seq - 1][8] != fork.given
    with bench.engine.begin() as there, engine.connect() as local:
        for _ in range(2):
            sending.record_fork(there, local, fork, NOW)
    engine.dispose()
    assert chain_at(shop, bench.name) == before
    rows = shop.rows("SELECT bench, seq, hash_there, hash_given, length(entry) FROM fork")
    assert [row[:4] for row in rows] == [("bench-1", seq, fork.there, fork.given)]
    assert rows[0][4] > 10


def test_rows_that_stand_beyond_what_was_thought_sent_are_compared(bench, shop):
    bench.work(1)
    first = bench.send()
    bench.file_unit()
    bench.send(first.head)
    # The commit came through and its answer did not: this program still thinks ``first``.
    assert bench.send(first.head).entries == 0
    with shop.owner.begin() as owner:
        owner.execute(text("ALTER TABLE journal DISABLE TRIGGER USER"))
        owner.execute(text("UPDATE journal SET hash = repeat('e', 64) WHERE seq = 7"))
        owner.execute(text("ALTER TABLE journal ENABLE TRIGGER USER"))
    with pytest.raises(ForkError, match="entry 7 of"):
        bench.send(first.head)


def test_a_shop_that_knows_more_of_the_bench_is_an_alarm_too(bench, shop, tmp_path):
    bench.work(1)
    bench.store.close()
    copy = bench.path.read_bytes()
    bench.store = bench.opened()
    bench.file_unit()
    sent = bench.send()
    bench.store.close()
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "r.sqlite").write_bytes(copy)
    with open_store(tmp_path / "old" / "r.sqlite", "bench-1", read_only=True) as old:
        with (
            bench.engine.begin() as there,
            old.reading() as local,
            pytest.raises(ForkError, match="an older copy") as caught,
        ):
            sending.send_batch(there, local, bench.name, None, NOW)
        assert caught.value.seq == old.head()[0] + 1
    assert caught.value.given == ""
    assert "restore --shop" in str(caught.value)
    assert chain_at(shop, bench.name)[-1][8] == sent.head[1]
    bench.store = bench.opened()


def test_a_journal_that_is_damaged_is_not_sent(bench, shop):
    bench.work(1)
    bench.store.close()
    raw = sqlite3.connect(bench.path)
    raw.execute("DROP TRIGGER journal_no_update")
    raw.execute("UPDATE journal SET person = 'x' WHERE seq = 3")
    raw.execute(schema.TRIGGERS["journal_no_update"])
    raw.commit()
    raw.close()
    bench.store = bench.opened()
    with pytest.raises(StoreCorruptError, match="does not match its hash"):
        bench.send()
    assert chain_at(shop, bench.name) == []


def test_a_head_that_is_not_of_this_journal_is_a_fork(bench, shop):
    bench.work(1)
    bench.send()
    with shop.owner.begin() as owner:
        owner.execute(text("ALTER TABLE tree_head DISABLE TRIGGER USER"))
        owner.execute(text("UPDATE tree_head SET root = repeat('0', 64)"))
        owner.execute(text("ALTER TABLE tree_head ENABLE TRIGGER USER"))
    with pytest.raises(ForkError, match="signed by this bench"):
        bench.send()


def test_facts_of_the_whole_shop_are_adopted_once_and_in_conflict_where_something_came_between(
    bench, shop, joined
):
    other = joined("bench-2")
    one = PersonEnrolled("p-1", "Ines", ("technician",))
    bench.add(one)
    bench.send()
    other.add(dataclasses.replace(one, name="Another Ines"))
    other.add(PersonLeft("p-1", "gone"))
    other.send()
    kinds = [(type(e), e.bench, e.seq) for e in shop_events(shop)]
    assert kinds == [
        (Adopted, "bench-1", 2), (Conflicted, "bench-2", 2), (Conflicted, "bench-2", 3),
    ]  # fmt: skip
    assert len(chain_at(shop, SHOP)) == 3


def test_a_unit_of_an_order_is_followed_through_the_batches(bench, shop):
    unit = OrderedUnit("l-1", serial="MR-9")
    bench.add(OrderPlaced("A-1", "2026-03-31", "", False, (unit,)))
    bench.add(RebuildOpened("u9", "MR-9", "MR 46", "mr-46", 3, "L-1", "A-1", line="l-1"))
    bench.send()
    bench.add(RebuildAbandoned("u9", "leaks"))
    bench.send()
    what = [e.what for e in shop_events(shop)]
    assert what == ["order.placed", "unit.opened", "shop.line_moved"]


def test_every_kind_that_the_shop_keeps_is_looked_at(samples):
    kept = {k for k, event in samples.items() if kept_of(event, "l-1") is not None}
    assert kept - {"shop.line_moved"} <= KINDS


def test_content_is_found_by_the_names_of_its_fields_alone():
    one, two = "a" * 64, "b" * 64
    body = (
        f'{{"content_sha256":"{two}","n":[{{"trace_sha256":"{one}"}}],"photo_sha256":"{two}",'
        f'"said":"\\"trace_sha256\\":\\"{two}\\"","trace_sha256":""}}'
    )
    assert batches.named_in(body.encode()) == {("trace", one), ("photo", two)}
    assert batches.named_in(b'_sha256":"' + one.encode() + b'"') == set()
