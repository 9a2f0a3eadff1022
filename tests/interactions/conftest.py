"""One bench with a filed unit, which is filed once more under another name for each story."""

import itertools
from dataclasses import replace

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.disposition import Standing
from benchstation.domain.events import PersonEnrolled, RebuildOpened, UnitFiled
from benchstation.store.queries import get_unit
from benchstation.store.words_on_units import disposition_of, signatures_for_release
from tests.stepped_bench import make_bench

QA, SECOND, WORKER = demo.QA, demo.LEAD, demo.TECHNICIANS[0]


class Desk:
    """What QA and the others do with filed units, through the bench's own commands."""

    def __init__(self, bench):
        self.bench, self.store, self.session = bench, bench.store, bench.session
        self._numbers = itertools.count(2)

    def act(self, action, **fields):
        return self.session.act(action, {**demo.SIGNED, **fields})

    def filed(self, order=""):
        """File the worked unit once more under other names; return its id."""
        unit = f"unit-{next(self._numbers)}"
        opened = self.store.entries(kind=RebuildOpened.kind)[0].event
        filing = self.store.entries(kind=UnitFiled.kind)[0].event
        named = {"unit_id": unit, "serial": f"R-{unit}", "order": order}
        record = {**filing.record, **named}
        more = replace(filing, unit_id=unit, serial=named["serial"], record=record)
        self.bench.sign_in(WORKER)
        self.session.journal([replace(opened, **named, line=""), more])
        self.bench.sign_in(QA)
        return unit

    def say(self, unit, word="released", person=QA):
        self.bench.sign_in(person)
        return self.act("dispose", unit=unit, disposition=word, reason="looked at it")

    def amend(self, unit, field, new, units="metric"):
        self.bench.sign_in(QA)
        named = {"unit": unit, "field": field, "new": new, "units": units, "reason": "typed wrong"}
        return self.act("amend", **named, approver=SECOND, pin=demo.PIN)

    def ship(self, unit):
        to = {"customer": "Kim", "address": "Kiln Lane 4", "order": "K-9", "package": "box 1"}
        return self.act("ship", unit=unit, clause="un_3164", **to)

    def two_release(self, two):
        self.bench.sign_in(QA)
        if signatures_for_release(self.store) != (2 if two else 1):
            self.act("set_release_rule", signatures="2" if two else "1", reason="so agreed")

    def standing(self, unit):
        row = Standing(get_unit(self.store, unit).standing)
        assert row is disposition_of(self.store, unit, qa_hold=False).standing
        return row


@pytest.fixture(scope="package")
def worked(tmp_path_factory):
    bench = make_bench(tmp_path_factory.mktemp("interactions"))
    bench.work_to(None, serial="R-1")
    known = bench.session.shop.people[SECOND]
    roles = ("lead", "qa")
    bench.session.journal([PersonEnrolled(SECOND, known.name, roles, known.pin_hash)])
    yield Desk(bench)
    bench.store.close()


@pytest.fixture
def desk(worked):
    """The bench with one signature for a release, and QA there."""
    worked.two_release(False)
    return worked
