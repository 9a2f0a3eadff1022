"""A shop in a file of its own: what the forwarder of each bench does, without network or server."""

from datetime import timedelta

from sqlalchemy import insert, select

from benchstation.domain.events import RebuildOpened
from benchstation.domain.shop_chain import SHOP, adopt, kept_of
from benchstation.store import journal
from benchstation.store.engine import open_store
from benchstation.store.projections import project
from benchstation.store.schema import journal as rows
from benchstation.store.taken import taken


class ShopStandIn:
    """The shop's chain. A bench sends and takes when its story says that the network is there."""

    def __init__(self, folder, clock):
        self.store = open_store(folder / "shop.sqlite", SHOP)
        self.clock = clock
        self._sent = {}

    def close(self):
        self.store.close()

    def desk(self, *events, person="desk"):
        """Append what a person decides at the desk."""
        return self.store.append(events, person=person, utc=self.clock())

    def send(self, bench):
        """Judge what a bench wrote since it sent last, in its order."""
        for entry in bench.entries():
            if entry.seq <= self._sent.get(bench.bench, 0):
                continue
            kept = kept_of(entry.event, self._line(bench, entry))
            if kept is not None:
                with bench.reading() as connection:
                    known, _ = taken(connection, bench.bench, entry.seq)
                said = adopt(entry, kept, known, self.store.entries())
                self.store.append([said], person="shop", utc=self.clock())
            self._sent[bench.bench] = entry.seq
            self._keep(bench, entry)

    def _keep(self, bench, entry):
        """Keep a bench's entry in the shop and project it, as the desk does."""
        with bench.reading() as connection:
            mine = (rows.c.bench == entry.bench) & (rows.c.seq == entry.seq)
            row = connection.execute(select(rows).where(mine)).one()
        with self.store._writing() as connection:
            connection.execute(insert(rows), row._asdict())
            project(connection, entry)

    def _line(self, bench, entry):
        unit = getattr(entry.event, "unit_id", "") or "-"
        opened = bench.entries(unit_id=unit, kind=RebuildOpened.kind)
        return opened[0].event.line if opened else ""

    def take(self, bench):
        """Let a bench read what it lacks of the shop's chain."""
        with bench.reading() as connection:
            known, _ = taken(connection, bench.bench)
        with self.store.reading() as connection:
            lacking = [row for row in journal.rows(connection, SHOP) if row.seq > known]
        return bench.take_shop(lacking, self.clock())

    def exchange(self, *benches):
        """Let all send, then all take."""
        for bench in benches:
            self.send(bench)
        for bench in benches:
            self.take(bench)


def stepping(start):
    """Return a clock that moves on by a second each time it is read."""
    reads = 0

    def clock():
        nonlocal reads
        reads += 1
        return start + reads * timedelta(seconds=1)

    return clock
