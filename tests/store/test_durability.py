"""The plug is pulled: the program dies at any moment, and what it had said is kept is there."""

import os
import random
import signal
import subprocess
import sys
import textwrap

import pytest

from benchstation.store.engine import open_store
from benchstation.store.errors import StoreCorruptError
from benchstation.store.search import find_units
from tests.waiting import let_pass

KILLS = 20
LONGEST_S = 0.09

# Imports once, then forks a writer for each line it gets; the writer appends until it is killed.
PROGRAM = textwrap.dedent("""
    import os, sys
    from datetime import UTC, datetime
    from pathlib import Path
    import numpy as np
    from benchstation.domain.events import HoldTested, RebuildAbandoned, RebuildOpened, UnitFiled
    from benchstation.store.engine import open_store
    from benchstation.store.traces import Trace

    def say(text):
        os.write(1, text.encode() + b"\\n")

    def work(run):
        utc = datetime(2026, 3, 4, tzinfo=UTC)
        with open_store(Path(sys.argv[1]), "bench-1") as store:
            def add(*events, traces=()):
                for entry in store.append(events, person="ines", utc=utc, traces=traces):
                    say(f"kept {entry.seq} {entry.hash}")
            left = store.open_unit()
            if left:
                add(RebuildAbandoned(left, "the program died"))
            for n in range(10_000):
                unit, t_us = f"u{run}-{n}", np.arange(500, dtype=np.int64)
                add(RebuildOpened(unit, unit, "MR 46", "s", 1, "L-1"))
                values = np.random.default_rng(n).normal(size=500)
                trace = Trace(t_us, {"pa": values}, {"pa": "Pa"}, utc, unit)
                held = HoldTested(unit, "c", 1e6, 1e6, 3.0, 0.0, 0.0, 0.0, "pass", trace.sha256)
                add(held, traces=[trace])
                add(UnitFiled(unit, unit, "pass", False, {"n": n}))

    for run in sys.stdin:
        pid = os.fork()
        if pid == 0:
            try:
                work(run.strip())
            finally:
                os._exit(1)
        say(f"writer {pid}")
        say(f"gone {os.waitpid(pid, 0)[1]}")
""")


class Writers:
    """Starts writers and listens to what they say."""

    def __init__(self, path):
        self.child = subprocess.Popen(
            [sys.executable, "-c", PROGRAM, str(path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        self.rest = b""

    def lines(self):
        while True:
            said = self.rest + os.read(self.child.stdout.fileno(), 65536)
            *whole, self.rest = said.split(b"\n")
            yield from (line.decode().split() for line in whole)

    def run(self, number, seconds, *, least):
        """Kill one writer some seconds after it has said that it kept ``least`` entries.

        Gives how it ended and all that it said it kept.
        """
        self.child.stdin.write(f"{number}\n".encode())
        self.child.stdin.flush()
        pid, killed, kept = 0, False, []
        for word, *values in self.lines():
            if word == "kept":
                kept.append((int(values[0]), values[1]))
            elif word == "writer":
                pid = int(values[0])
            else:
                return int(values[0]), kept
            if pid and not killed and len(kept) >= least:
                let_pass(seconds)
                os.kill(pid, signal.SIGKILL)
                killed = True
        raise AssertionError("the writers said nothing more")

    def close(self):
        self.child.stdin.close()
        self.child.wait()
        self.child.stdout.close()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork to be quick")
def test_what_was_acknowledged_survives_being_killed_at_any_moment(path):
    rng, kept = random.Random(20260304), []
    writers = Writers(path)
    for run in range(KILLS):
        # Every other one gets something done however busy the machine is.
        least = rng.randint(2, 6) if run % 2 else 0
        status, said = writers.run(run, rng.uniform(0, LONGEST_S), least=least)
        assert status == signal.SIGKILL
        kept += said
        with open_store(path, "bench-1") as store:
            journal = {entry.seq: entry.hash for entry in store.entries()}
            assert [journal.get(seq) for seq, _ in said] == [own for _, own in said]
            assert len(find_units(store, state="open")) <= 1
    writers.close()
    assert len(kept) >= KILLS, "the writers got too little done for this to mean anything"
    with open_store(path, "bench-1") as store:
        journal = {entry.seq: entry.hash for entry in store.entries()}
        assert all(journal[seq] == own for seq, own in kept)
        found = store.verify()
        assert (found.problem, found.entries) == ("", len(journal))


FIRST_MOMENTS = """
import os, sqlite3, sys
raw = sqlite3.connect(sys.argv[1], isolation_level=None)
raw.execute("CREATE TABLE a (x)")
raw.execute("PRAGMA cache_size=1")
raw.execute("BEGIN")
for _ in range(500):
    raw.execute("INSERT INTO a VALUES (randomblob(3000))")
raw.execute("DROP TABLE a")
os._exit(1)
"""


def test_a_start_that_was_killed_before_the_file_was_whole_is_undone_by_the_next(path):
    subprocess.run([sys.executable, "-c", FIRST_MOMENTS, str(path)], check=False)
    assert path.with_name(path.name + "-journal").stat().st_size > 0
    with pytest.raises(StoreCorruptError, match="does not hold records"):
        open_store(path, "bench-1")
    assert not path.with_name(path.name + "-journal").exists()
