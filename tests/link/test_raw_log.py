"""The memory of a line: bounded, dated, in order."""

from hypothesis import given
from hypothesis import strategies as st

from benchstation.link.raw_log import Direction, RawChunk, RawLog

IN, OUT = Direction.RECEIVED, Direction.SENT
chunks = st.lists(st.tuples(st.sampled_from([IN, OUT]), st.binary(max_size=40)), max_size=30)


@given(chunks, st.integers(1, 100))
def test_it_keeps_the_last_bytes_and_no_more(parts, most):
    log = RawLog(most)
    for at, (direction, data) in enumerate(parts):
        log.add(float(at), direction, data)
    kept = log.between(0.0, 1e9)
    assert sum(len(chunk.data) for chunk in kept) <= most
    assert b"".join(data for _, data in parts).endswith(b"".join(c.data for c in kept))
    assert [chunk.at for chunk in kept] == sorted(chunk.at for chunk in kept)


def test_a_slice_of_time_has_both_ends():
    log = RawLog()
    for at in range(5):
        log.add(float(at), IN, b"%d" % at)
    assert [chunk.data for chunk in log.between(1.0, 3.0)] == [b"1", b"2", b"3"]
    assert log.between(3.5, 3.9) == []


def test_the_tail_is_what_was_received():
    log = RawLog()
    log.add(0.0, IN, b"abc")
    log.add(1.0, OUT, b"W\r\n")
    log.add(2.0, IN, b"def")
    assert log.tail() == b"abcdef"
    assert log.tail(2) == b"ef"
    assert log.between(1.0, 1.0) == [RawChunk(1.0, OUT, b"W\r\n")]


def test_one_chunk_larger_than_the_memory():
    log = RawLog(10)
    log.add(0.0, IN, bytes(range(30)))
    assert log.tail() == bytes(range(20, 30))
