"""A bench with a journal of its own beside a shop, and what the shop has of it."""

from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from benchstation.domain.events import (
    ChargeCaptured,
    OilLotReceived,
    PersonEnrolled,
    RebuildOpened,
    UnitFiled,
)
from benchstation.domain.shop_chain import SHOP
from benchstation.physics.gas_spring import ChargeTarget
from benchstation.store import journal
from benchstation.store.engine import open_store
from benchstation.store.row_check import checked
from benchstation.store.shop.sending import send_batch
from benchstation.store.traces import Trace
from benchstation.store.trust import trust_at
from tests.samples import sample_of

NOW = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)


def trace_of(seed):
    values = np.random.default_rng(seed).normal(15, 0.1, 300).round(2) * 1e5
    t_us = np.arange(300, dtype=np.int64) * 10_000
    return Trace(t_us, {"gauge_pa": values}, {"gauge_pa": "Pa"}, NOW, "charge")


class JoinedBench:
    """A bench's store, its login at the shop, and hands that work a unit on it."""

    def __init__(self, folder, shop, name="bench-1"):
        self.shop, self.name = shop, name
        self.path, self.home = folder / name / "r.sqlite", folder / name / "home"
        self.units = 0
        self.store = self.opened()
        self.engine = shop.bench(name)
        self._now = NOW

    def opened(self, **given):
        return open_store(self.path, self.name, trust=trust_at(self.home), **given)

    def reopen(self):
        self.store.close()
        self.store = self.opened()

    def now(self):
        self._now += timedelta(seconds=1)
        return self._now

    def add(self, *events, **given):
        return self.store.append(events, person="ines", utc=self.now(), **given)

    def file_unit(self):
        """Work a whole unit with a trace; returns the trace's name."""
        self.units += 1
        unit = f"{self.name}-u{self.units}"
        trace = trace_of(abs(hash(unit)) % 2**32)
        self.add(RebuildOpened(unit, f"MR-{self.units}", "MR 46", "mr-46", 3, "L-1"))
        self.add(
            ChargeCaptured(
                unit, "charge", "gauge-1", 1.51e6, 1.5e6, 1.5e6, 4e4, 5e3, 1e4, 2.0, "pass", 0.99,
                293.15, 101325.0, 1e-4, 1.8e-3, trace.sha256, "", sample_of(ChargeTarget), (),
            ),
            traces=[trace],
        )  # fmt: skip
        self.add(UnitFiled(unit, f"MR-{self.units}", "pass", False, {"n": self.units}))
        return trace.sha256

    def work(self, units=1):
        """Add what belongs to the shop, and units."""
        self.add(PersonEnrolled(f"{self.name}-p", f"Person {self.name}", ("lead",)))
        self.add(OilLotReceived(f"{self.name}-lot", "Oil", 860.0, 5e-4, source="certificate"))
        for _ in range(units):
            self.file_unit()

    @contextmanager
    def both(self):
        with self.engine.begin() as shop, self.store.reading() as local:
            yield shop, local

    def send(self, thought=None):
        with self.both() as (shop, local):
            return send_batch(shop, local, self.name, thought, self.now())

    def rows(self):
        with self.store.reading() as local:
            return [tuple(row) for row in journal.rows(local, self.name)]


def chain_at(shop, name):
    """Return a chain as the shop has it, each row checked against the one before it."""
    with shop.owner.connect() as connection:
        last, found = (0, journal.GENESIS), []
        for row in journal.rows(connection, name):
            checked(row, last)
            last = (row.seq, row.hash)
            found.append(tuple(row))
    return found


def shop_events(shop):
    with shop.owner.connect() as connection:
        return [entry.event for entry in journal.read(connection, SHOP)]


@pytest.fixture
def joined(tmp_path, shop):
    """Make benches of the shop; all are closed at the end."""
    made = []

    def make(name="bench-1"):
        made.append(JoinedBench(tmp_path, shop, name))
        return made[-1]

    yield make
    for one in made:
        one.store.close()


@pytest.fixture
def bench(joined):
    return joined()
