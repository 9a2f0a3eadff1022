import threading
from datetime import UTC, datetime

from benchstation.store.bench_key import bench_key
from benchstation.store.head_writer import HeadWriter

NOW = datetime(2026, 3, 4, tzinfo=UTC)


class SlowTrust:
    """Keeps heads when it is let, and says which."""

    def __init__(self):
        self.let = threading.Event()
        self.kept = []

    def keep(self, path, first, head):
        assert self.let.wait(10)
        self.kept.append((path, first, head.size))


def test_nobody_waits_for_the_disk_and_the_last_head_is_written(tmp_path):
    trust, key = SlowTrust(), bench_key(tmp_path)
    writer = HeadWriter(trust)
    for size in range(1, 6):
        writer.keep(tmp_path, "first", key.sign("bench-1", size, b"\1" * 32, NOW))
    assert trust.kept == []
    trust.let.set()
    writer.close()
    assert trust.kept[-1] == (tmp_path, "first", 5)
    assert len(trust.kept) <= 2


def test_closing_without_a_head_writes_nothing():
    trust = SlowTrust()
    HeadWriter(trust).close()
    assert trust.kept == []
