"""Filters, worklist, lists and audit trail of a whole shop: the code of a bench on its database."""

import csv
from dataclasses import replace
from datetime import date

import pytest

from benchstation.bench.shop import shop_from
from benchstation.domain.events import (
    DeviationSigned,
    InstrumentChecked,
    NoticeGiven,
    PersonEnrolled,
    SearchSaved,
    StepSigned,
    UnitDisposed,
)
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.domain.statements import Code, Statement
from benchstation.screens.audit.page import Audit
from benchstation.screens.records.listing import write_list
from benchstation.screens.records.page import Records
from benchstation.screens.worklist.lines import Desk
from benchstation.screens.worklist.page import open_work, work_rows
from benchstation.store.audit import Wanted, each_entry, page_of
from benchstation.store.engine import open_store
from benchstation.store.filters import By, names_begun
from benchstation.store.heads import told_to
from benchstation.store.notices import saved_searches
from benchstation.store.shop.shop_store import open_shop


@pytest.fixture
def desk(shop, tmp_path, clock, samples, opening, filing):
    """A shop of two benches with two units each; the gauge of one failed."""
    registered = samples["instrument.registered"]
    gauge = replace(
        registered, instrument_id="gauge-1", role="gauge", title="Gauge", calibrated_until=""
    )
    with open_shop(shop.login_address("shop_desk")) as opened:
        people = [PersonEnrolled(who, who.title(), ("qa",)) for who in ("ines", "jo")]
        opened.append([*people, replace(samples["oil.received"], lot="L-1", until="2026-03-20")],
                      person="ines", utc=clock())  # fmt: skip
        for n, bench in enumerate(("bench-1", "bench-2")):
            with open_store(tmp_path / f"{bench}.db", bench) as store:
                store.append([gauge], person="ines", utc=clock())
                for at in range(2):
                    unit, serial = f"{bench}-{at}", f"MR-{n}{at}"
                    read = ZeroRead("zero1", "unit", 100.0, 1e4, "gauge-1")
                    worn = DeviationSigned(unit, "release", Statement.of(Code.TEXT, text="worn"),
                                           "polished")  # fmt: skip
                    events = [opening(unit, serial), StepSigned(unit, "release", (read,))]
                    filed = replace(filing(unit, serial), decision="deviation" if at else "pass")
                    events += [*([worn] if at else []), filed]
                    store.append(events, person="jo" if at else "ines", utc=clock())
                if n:
                    bad = InstrumentChecked("gauge-1", "zero check", 0.0, 9e4, 2.0, False)
                    store.append([bad], person="jo", utc=clock())
                shop.take(store)
        opened.catch_up()
        yield opened


def serials(desk, text):
    return sorted(row.serial for row in Records(desk).find(text))


def test_filters_answer_for_all_benches(desk, clock):
    assert serials(desk, "state:filed") == ["MR-00", "MR-01", "MR-10", "MR-11"]
    assert serials(desk, "deviation:yes accepted:jo") == ["MR-01", "MR-11"]
    assert serials(desk, "verdict:deviation") == ["MR-01", "MR-11"]
    assert serials(desk, "verdict:pass") == ["MR-00", "MR-10"]
    assert Records(desk).about("verdict:fail").startswith('Verdict: write "pass", "deviation".')
    assert "the nearest is “verdict”" in Records(desk).about("verdikt:pass")
    assert serials(desk, "signed:ines instrument:gauge-1 qa:not") == ["MR-00", "MR-10"]
    assert serials(desk, "mr-1 filed:jo") == ["MR-11"]
    desk.append([UnitDisposed("bench-2-1", "held", "scored")], person="ines", utc=clock())
    assert serials(desk, 'qa:"on hold"') == ["MR-11"]
    assert serials(desk, "qa:not deviation:no") == ["MR-00", "MR-10"]
    assert Records(desk).about("qa:not").endswith(": 3 units.")
    assert len(names_begun(desk, By.SERIAL, "mr-")) == 4


def test_the_worklist_is_that_of_all_benches(desk, clock):
    shop = shop_from(desk, "shop", desk.bench, {})
    at = Desk(desk, shop, date(2026, 3, 5), Records(desk).names())
    rows = {(row.title, row.state): row for row in work_rows(at)}
    assert {("MR-00", "to be released"), ("MR-11", "to be released")} <= set(rows)
    failed = rows["Gauge", "check failed"]
    assert failed.beside == "gauge-1, bench-2"
    assert failed.below == ("zero check failed; 2 units rest on it since it was good",)
    place = open_work(at, failed.key).fields["place"]
    assert serials(desk, place) == ["MR-00", "MR-01", "MR-10", "MR-11"], "each bench's own checks"
    assert rows["L-1", "expires"].below == ("may be used until 2026-03-20",)
    assert ("Gauge", "calibration") in rows


def test_a_list_names_the_head_of_each_chain_and_notices_of_the_desk(desk, clock, tmp_path):
    notice = NoticeGiven("state:filed", "bench-1-0", "the customer, by letter")
    saved = SearchSaved("ines", "mine", "filed:ines")
    desk.append([notice, saved], person="ines", utc=clock())
    assert saved_searches(desk, "ines") == {"mine": "filed:ines"}
    made = write_list(
        Records(desk), "state:filed", tmp_path, shop="shop", person="Ines", now=clock()
    )
    lines = made.paths[0].read_text("utf-8").splitlines()
    heads = [line for line in lines if line.startswith("# Tells up to")]
    assert [head.bench for head in told_to(desk)] == ["bench-1", "bench-2", "shop"]
    assert len(heads) == 3
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len(rows) == made.fact.units == 4
    (told,) = [row["told"] for row in rows if row["told"]]
    assert told.startswith("the customer, by letter (Ines, ")
    assert Records(desk).find("serial:mr-00")[0].told == 1


def test_the_audit_trail_is_that_of_all_chains_in_the_order_of_time(desk):
    every = list(each_entry(desk, Wanted()))
    assert {entry.bench for entry in every} == {"bench-1", "bench-2", "shop"}
    times = [entry.utc for entry in every]
    assert times == sorted(times, reverse=True)
    assert len({(entry.bench, entry.seq) for entry in every}) == len(every)
    paged, before = [], ""
    while True:
        page = page_of(desk, Wanted(kinds=("unit.filed",)), before=before, limit=1)
        paged += page.entries
        before = page.before
        if not before:
            break
    assert [entry.event.serial for entry in paged] == ["MR-11", "MR-10", "MR-01", "MR-00"]
    view = Audit(desk).find("serial:mr-10")
    assert [row.title for row in view.rows] == ["Unit filed", "Step signed", "Unit opened"]
