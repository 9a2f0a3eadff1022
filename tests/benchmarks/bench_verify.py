"""How long verifying takes against the bare cost of hashing and parsing the same bytes.

    python -m tests.benchmarks.bench_verify [copies]

The file is the demo shop's past of 30 units, and copies of its units appended by the store's own
code under other names (their traces are shared). Bare is one process with the standard library
alone: SHA-256 of every body and trace, JSON parsed. Goal: reading all takes at most 5 times that;
what came since the last time does not depend on the length of the journal.
"""

import hashlib
import json
import os
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from benchstation.demo import history
from benchstation.demo import shop as demo
from benchstation.domain.events import Event, UnitFiled, event_from, stored_body
from benchstation.store import engine
from benchstation.store.canonical import canonical, parsed
from benchstation.store.engine import Store, open_store
from benchstation.store.journal import Entry
from benchstation.store.known_heads import KnownHeads
from benchstation.store.trust import trust_at
from benchstation.store.verifying import Verifier

UNITS_MADE = 30
COPIES = 20
GOAL = 5.0
_KEPT: set[str] = set()


def main(copies: int) -> int:
    """Print times and ratios; gives 1 when the goal is missed."""
    with tempfile.TemporaryDirectory() as folder:
        path, home = Path(folder) / "records.db", Path(folder) / "home"
        with open_store(path, demo.BENCH, trust=trust_at(home)) as store:
            last = _past(store, copies)
        entries = _bare(path)
        bare = min(_timed(lambda: _bare(path)) for _ in range(3))
        print(f"{entries} entries, {path.stat().st_size / 1e6:.0f} MB, {os.cpu_count()} cores")
        print(f"bare hashing and parsing: {bare:.2f} s, {bare / entries * 1e6:.0f} us an entry")
        ratios = {}
        with open_store(path, "", read_only=True) as store:
            verifier = Verifier(store, KnownHeads(home))
            for name, start in (("one process", 10**9), ("several processes", 1)):
                engine.APART_FROM = start
                took = min(_timed(lambda: _sound(verifier.whole)) for _ in range(2))
                ratios[name] = took / bare
                print(f"all, {name}: {took:.2f} s, {took / bare:.1f} times bare (goal {GOAL:.0f})")
        with open_store(path, demo.BENCH, trust=trust_at(home)) as store:
            unit = last[0].event.unit_id
            events = [_renamed(entry.event, unit, "one-more") for entry in last]
            store.append(events, person="ines", utc=datetime.now(UTC))
        with open_store(path, "", read_only=True) as store:
            took = _timed(lambda: _sound(Verifier(store, KnownHeads(home)).new))
        print(f"what came since ({len(last)} entries): {took * 1e3:.0f} ms")
    return int(ratios["several processes"] > GOAL)


def _past(store: Store, copies: int) -> list[Entry]:
    """Fill a store with the demo shop's past and copies of its units; gives a unit's events."""
    made = history.history_file(datetime.now(UTC).date(), UNITS_MADE)
    with open_store(made, "", read_only=True) as source, store.bulk():
        entries = source.entries()
        for entry in entries:
            _append(store, source, [entry.event], entry.utc)
        units = [e.event.unit_id for e in entries if isinstance(e.event, UnitFiled)]
        whole = {unit: source.entries(unit_id=unit) for unit in units}
        for number in range(copies):
            for unit in units:
                events = [_renamed(e.event, unit, f"{unit}-{number}") for e in whole[unit]]
                _append(store, source, events, entries[-1].utc)
    return whole[units[-1]]


def _renamed(event: Event, old: str, new: str) -> Event:
    body = canonical(stored_body(event)).replace(f'"{old}"'.encode(), f'"{new}"'.encode())
    return event_from(event.kind, parsed(body))


def _append(store: Store, source: Store, events: list[Event], utc: datetime) -> None:
    names = {name for e in events if (name := getattr(e, "trace_sha256", ""))}
    names -= _KEPT
    _KEPT.update(names)
    photos = {n: source.get_photo(n) for e in events if (n := getattr(e, "photo_sha256", ""))}
    traces = [source.get_trace(name) for name in names]
    store.append(events, person="ines", utc=utc, traces=traces, photos=photos)


def _sound(check: Callable[[], object]) -> None:
    found = check()
    assert found.ok, found.problem


def _bare(path: Path) -> int:
    raw = sqlite3.connect(path)
    count = 0
    for (body,) in raw.execute("SELECT body FROM journal ORDER BY bench, seq"):
        hashlib.sha256(body).digest()
        json.loads(body)
        count += 1
    for (data,) in raw.execute("SELECT data FROM trace"):
        hashlib.sha256(data).digest()
    raw.close()
    return count


def _timed(action: Callable[[], object]) -> float:
    began = time.perf_counter()
    action()
    return time.perf_counter() - began


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else COPIES))
