"""How fast a bench's chain is sent to the shop against a bare ``COPY`` of the same rows.

    python -m tests.benchmarks.bench_forwarding [units] [rounds]

The bare copy has the rows in memory and sends them by psycopg's binary ``COPY`` in one transaction
a table, into tables with the same columns and keys and without triggers or checks. Forwarding reads
them from the bench's file, checks each entry's hash, asks what the shop lacks, and keeps its
batches. Both go to the same server, started for this, which waits for its disk. Exits with 1 when
forwarding comes to less than 0.5 of the bare copy.
"""

import sys
import tempfile
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import psycopg

from benchstation.store import journal, schema
from benchstation.store.backends import own_server
from benchstation.store.engine import Store, open_store
from benchstation.store.shop.exchange import Exchange
from benchstation.store.shop.sending import COLUMNS, TYPES
from benchstation.store.trust import trust_at
from tests import shop_server
from tests.benchmarks.bench_filing import NOW, _charge, _filing, _pour, _work_on

GOAL = 0.5
UNITS, ROUNDS = 2_000, 5
NO_TRACE = SimpleNamespace(sha256="")
TRACES_OF = 20
"""Every so many units carry two traces of 20,000 samples, so that the entries weigh as well."""


def main(units: int = UNITS, rounds: int = ROUNDS) -> int:
    """Print both rates, entries alone and with content; return the exit code."""
    programs = own_server.server_programs()
    if programs is None:
        print("no PostgreSQL server is installed")
        return 1
    own_server.SETTINGS.update({"fsync": "on", "synchronous_commit": "on"})
    server = shop_server.ShopServer(programs)
    try:
        with tempfile.TemporaryDirectory() as folder:
            worst = min(
                _compared(server, Path(folder) / str(every), units, rounds, every)
                for every in (0, TRACES_OF)
            )
    finally:
        server.remove()
    return int(worst < GOAL)


def _compared(
    server: shop_server.ShopServer, folder: Path, units: int, rounds: int, every: int
) -> float:
    """Print the best of some rounds of either way; return their ratio."""
    with open_store(folder / "r.sqlite", "bench-1", trust=trust_at(folder / "home")) as store:
        _fill(store, units, every)
        rows, traces = _rows(store)
        results = [_round(server, store, rows, traces) for _ in range(rounds)]
    bare, ours = (min(times) for times in zip(*results, strict=True))
    size = sum(len(row[6]) for row in rows) + sum(len(data) for _, data in traces)
    what = f"two traces with every {every}th unit" if every else "entries alone"
    print(
        f"{what}: {len(rows)} entries, {size / 1e6:.1f} MB; bare COPY {bare:.3f} s "
        f"({len(rows) / bare:,.0f}/s), forwarding {ours:.3f} s ({len(rows) / ours:,.0f}/s): "
        f"{bare / ours:.2f} (goal {GOAL}, best of {rounds})"
    )
    return bare / ours


def _round(
    server: shop_server.ShopServer, store: Store, rows: list[tuple], traces: list
) -> tuple[float, float]:
    database = shop_server.ShopDatabase(server, server.new_database())
    shop_server.bring_up_to_date(database.owner, shop_server.WHEN)
    line = Exchange(store, database.bench_address("bench-1"))
    try:
        bare = _bare(server, database.database, rows, traces)
        # Both have their connection before the clock starts, as a bench has it all day.
        with line._line():
            return bare, _forward(line)
    finally:
        line.close()
        database.close()


def _fill(store: Store, units: int, every: int) -> None:
    rng = np.random.default_rng(1)
    with store.bulk():
        for n in range(units):
            traces = [_pour(rng), _charge(rng)] if every and not n % every else []
            _work_on(store, f"u{n}")
            event = _filing(f"u{n}", traces or [NO_TRACE, NO_TRACE])
            store.append([event], person="ines", utc=NOW, traces=traces)


def _rows(store: Store) -> tuple[list[tuple], list[tuple[str, bytes]]]:
    with store.reading() as local:
        rows = [tuple(row) for row in journal.rows(local, store.bench)]
        return rows, [tuple(row) for row in local.execute(schema.trace.select())]


def _bare(server: shop_server.ShopServer, database: str, rows: list[tuple], traces: list) -> float:
    with psycopg.connect(server.conninfo(database)) as there:
        for table in ("journal", "trace"):
            there.execute(f"CREATE TABLE bare_{table} (LIKE {table} INCLUDING INDEXES "
                          "INCLUDING STORAGE)")  # fmt: skip
        there.commit()
        began = time.perf_counter()
        _copy(there, "bare_trace", ("sha256", "data"), ("text", "bytea"), traces)
        _copy(there, "bare_journal", COLUMNS, TYPES, rows)
        there.commit()
        return time.perf_counter() - began


def _copy(there: psycopg.Connection, table: str, columns, types, rows: list) -> None:
    statement = f"COPY {table} ({', '.join(columns)}) FROM STDIN (FORMAT BINARY)"
    with there.cursor() as cursor, cursor.copy(statement) as copy:
        copy.set_types(types)
        for row in rows:
            copy.write_row(row)


def _forward(line: Exchange) -> float:
    began = time.perf_counter()
    while line.step(NOW).sent:
        pass
    return time.perf_counter() - began


if __name__ == "__main__":
    sys.exit(main(*(int(word) for word in sys.argv[1:3])))
