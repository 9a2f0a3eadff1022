"""A shop for stories: in a file of its own, without network or server, or on a real server."""

from datetime import timedelta

from sqlalchemy import insert, select

from benchstation.domain.events import RebuildOpened
from benchstation.domain.shop_chain import SHOP, adopt, kept_of
from benchstation.store import journal
from benchstation.store.engine import open_store
from benchstation.store.projections import project
from benchstation.store.schema import journal as rows
from benchstation.store.shop.exchange import Exchange
from benchstation.store.shop.rules import SHOP_DESK
from benchstation.store.shop.shop_store import open_shop
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


class ShopAtServer:
    """The same on a real server: each bench exchanges over a line of its own, the desk as desk."""

    def __init__(self, database, clock):
        self.store = open_shop(database.login_address(SHOP_DESK))
        self.clock = clock
        self._database = database
        self._lines = {}

    def close(self):
        for line in self._lines.values():
            line.close()
        self.store.close()

    def desk(self, *events, person="desk"):
        """Append what a person decides at the desk."""
        self.store.catch_up()
        return self.store.append(events, person=person, utc=self.clock())

    def send(self, bench):
        """Exchange until nothing moves any more."""
        if id(bench) not in self._lines:
            address = self._database.bench_address(bench.bench)
            self._lines[id(bench)] = Exchange(bench, address)
        line = self._lines[id(bench)]
        while (moved := line.step(self.clock())).sent or moved.took:
            pass

    take = send

    def exchange(self, *benches):
        """Let all send, then all take, and the desk see it."""
        for _ in range(2):
            for bench in benches:
                self.send(bench)
        assert self.store.catch_up().broken == {}
