"""QA's questions, each answered in at most three actions after sign-in, on real records.

An action is a key, or a text that is typed and ended by Enter. The window is the real one; what it
asks of the records is answered by the records, all else by a station of no consequence.
"""

from datetime import date

import pytest

from benchstation.bench.shop import shop_from
from benchstation.domain.events import (
    DeviationSigned,
    InstrumentChecked,
    InstrumentRegistered,
    PersonEnrolled,
    RebuildOpened,
    StepSigned,
    UnitDisposed,
    UnitFiled,
    UnitShipped,
)
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.domain.statements import Code, Statement
from benchstation.screens.records.page import Records
from benchstation.screens.worklist.lines import Desk
from benchstation.screens.worklist.page import work_rows
from benchstation.store.engine import open_store
from tests.samples import sample_of
from tests.store.conftest import START, Clock
from tests.ui import fake_worklist
from tests.ui.fake_moments import pour
from tests.ui.fake_station import FakeStation

GAUGE = InstrumentRegistered(
    "gauge-1", "gauge", "Gauge", "p", "SN-1", 1.0, 0.0, 1e-4, "2026-01-01", "2099-01-01", ""
)
WEEK = f"from:{START:%Y-%m-%d} to:2026-03-11"


def rebuild(unit, serial, *, order, lot, kit):
    """Return the events of a unit that is filed with a pass."""
    read = ZeroRead("zero1", "unit", 1.0, 1e4, "gauge-1")
    return [
        RebuildOpened(unit, serial, "MR 46 front", "mr", 1, lot, order),
        StepSigned(unit, "kit", (PartFitted("lot1", "seal", "P-1", 1, kit), read)),
        UnitFiled(unit, serial, "pass", False, {}),
    ]


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    """Five rebuilds of four dampers, a check between the first and the others."""
    with open_store(tmp_path_factory.mktemp("records") / "r.db", "bench-1") as opened:
        clock = Clock()

        def say(*events, by="anna"):
            opened.append(list(events), person=by, utc=clock())

        for who, name in (("anna", "Anna Ruiz"), ("ben", "Ben Kofler")):
            say(PersonEnrolled(who, name, ("technician", "lead", "qa")))
        say(GAUGE)
        say(*rebuild("u1", "MR-1", order="WO-1", lot="L-1", kit="K-1"))
        say(InstrumentChecked("gauge-1", "zero check", 0.0, 1.0, 2e3, True))
        say(*rebuild("u2", "MR-2", order="WO-1", lot="L-1", kit="K-2"), by="ben")
        say(*rebuild("u3", "MR-3", order="WO-2", lot="L-2", kit="K-2"))
        opening, signing, filing = rebuild("u4", "MR-4", order="WO-2", lot="L-2", kit="K-3")
        worn = DeviationSigned("u4", "kit", Statement.of(Code.TEXT, text="worn"), "polished")
        say(opening, signing, worn, filing)
        say(UnitDisposed("u1", "released", "seen"), by="ben")
        shipped = sample_of(UnitShipped)
        values = {name: getattr(shipped, name) for name in shipped.__slots__}
        say(UnitShipped(**{**values, "unit_id": "u1", "customer": "Fire brigade", "order": ""}))
        say(*rebuild("u5", "MR-1", order="WO-3", lot="L-3", kit="K-3"))
        say(UnitDisposed("u2", "held", "the label is torn"))
        say(UnitDisposed("u3", "rejected", "scored rod"))
        yield opened


class OnRecords(FakeStation):
    """Answers what is asked of records from these."""

    def __init__(self, view, *, store):
        super().__init__(view)
        self.read = Records(store)

    def find_records(self, text, before=""):
        return self._answer(self.read.find(text, before))

    def about_search(self, text):
        return self._answer(self.read.about(text))

    def worklist(self):
        shop = shop_from(self.read.store, "shop", "bench-1", {})
        desk = Desk(self.read.store, shop, date(2026, 3, 5), self.read.names())
        return self._answer(work_rows(desk))

    def open_work(self, key):
        return self._answer(next(iter(fake_worklist.LINES)))


@pytest.fixture
def walk(open_bench, store, monkeypatch, qtbot):
    """Return what does actions, from the bench on, and gives the lines that are listed then."""
    bench = open_bench(pour())
    station = OnRecords(pour(), store=store)
    for name in ("find_records", "about_search", "worklist", "open_work"):
        monkeypatch.setattr(bench.station, name, getattr(station, name))

    def listed(page):
        page = bench.window.made.get(page)
        return [row.line for row in page.list.rows.rows] if page is not None else []

    def do(page, titles, *actions):
        bench.window.switch("bench")
        bench.window.setFocus()
        for action in actions:
            if action[:1] == "'":
                bench.type(action[1:])
                bench.key("Return")
            else:
                bench.key(action)
        qtbot.waitUntil(lambda: [line.title for line in listed(page)] == titles, timeout=2000)
        return listed(page)

    return do


def typed(text):
    return ("F4", "Ctrl+F", f"'{text}")


QUESTIONS = {
    "the record of a serial": (typed("MR-3"), ["MR-3"]),
    "all units of an oil lot": (typed("lot:L-1"), ["MR-2", "MR-1"]),
    "all units of a seal kit": (typed("part:K-2"), ["MR-3", "MR-2"]),
    "what rests on a gauge since its last good check": (
        typed("gauge-1 since the last good check"), ["MR-1", "MR-4", "MR-3", "MR-2"],
    ),
    "filed by a person in a week": (typed(f"filed:ben {WEEK}"), ["MR-2"]),
    "all units of an order": (typed("order:WO-2"), ["MR-4", "MR-3"]),
    "held or rejected": (typed('qa:"on hold or rejected"'), ["MR-3", "MR-2"]),
    "deviations by whom": (typed("deviation:yes accepted:anna"), ["MR-4"]),
    "earlier rebuilds": (typed("serial:MR-1"), ["MR-1", "MR-1"]),
    "shipped to a customer": (typed('customer:"fire brigade"'), ["MR-1"]),
    "passed in a month": (
        typed("verdict:pass from:2026-03 to:2026-03"), ["MR-1", "MR-4", "MR-3", "MR-2", "MR-1"],
    ),
}  # fmt: skip


def test_each_question_is_answered_in_three_actions(walk):
    for actions, serials in QUESTIONS.values():
        assert len(actions) <= 3
        walk("records", serials, *actions)


def test_the_worklist_says_in_one_action_what_is_held_and_why(walk):
    lines = walk("worklist", ["MR-2", "MR-4", "MR-1", "MR-4"], "Shift+F3")
    said = {(line.title, line.state): line.below for line in lines}
    assert said["MR-2", "on hold"] == ("the label is torn",)
    assert ("MR-4", "to be released") in said
