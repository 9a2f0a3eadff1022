"""How the oil was weighed, on paper: two lots, by hand, weighed again; nothing for a plain unit."""

import pytest
from pypdf import PdfReader

from benchstation.bench.targets import present_pour
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_record import record_in
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import as_json, filed_record, trace_names
from benchstation.reports.oil_words import by_hand_lines, lots_of, pour_goal_kg, weighing_lines
from tests.oil_hands import tare
from tests.reports.paper_pages import MOST_PAGES
from tests.stepped_bench import make_bench

WORDS = QuantityFormatter(UnitSystem.METRIC)


def weigh(bench, what, move, action="capture", **fields):
    session, count = bench.session, len(bench.session.rebuild.captures)
    tare(bench, what)
    move()
    session.act(action, fields)
    bench.until(lambda: len(session.rebuild.captures) > count)


@pytest.fixture(scope="module")
def mixed(tmp_path_factory):
    """A unit of two lots, one part of it weighed again, bled by hand."""
    bench = make_bench(tmp_path_factory.mktemp("mixed"))
    session = bench.session

    def pour(short_kg=0.0):
        bench.pour(present_pour(session).goal_kg - short_kg)

    bench.work_to(StepKind.WEIGH)
    weigh(bench, "body", lambda: bench.pour(0.1), "pour_rest", lot="L-0421")
    weigh(bench, "body", lambda: pour(0.02))
    session.act("again", {})
    bench.world.model.oil_kg = 0.1
    weigh(bench, "body", pour)
    bench.unplugged.add("scale")
    bench.run(2)
    surplus = f"{present_pour(session).goal_kg * 1e3:.1f} g"
    how = {"instrument": "Counter scale", "instrument_serial": "K-77", "last_digit": "0.1 g"}
    who = {"expanded": "0.2 g", "second": "wieland", "pin": "246810"}
    session.act("take_by_hand", {"by_hand": surplus, **how, **who})
    bench.unplugged.clear()
    # The body is closed over the tray.
    bench.world.model.put_on_pan("tray")
    bench.world.model.put_on_pan("nothing")
    bench.work_to(None)
    yield filed_record(bench.store, session.rebuild.unit_id)
    bench.store.close()


def test_every_weighing_and_both_lots_are_on_paper(mixed, tmp_path):
    reader = PdfReader(write_certificate(mixed, tmp_path / "a.pdf"))
    assert len(reader.pages) <= MOST_PAGES
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert "lot L-0417 and L-0421" in text
    assert "ON HOLD" in text
    assert "QA hold: oil weighed by hand" in text
    assert "read on Counter scale, serial K-77, confirmed by Jonas Wieland" in text
    assert "by gain, lot L-0421, weighed again since" in text
    assert "Oil of lot L-0421: " in text


def test_the_volumes_of_the_lots_are_the_fill_and_its_bleed(mixed):
    oil = mixed.record.oil
    assert lots_of(oil) == ["L-0417", "L-0421"]
    volume = sum(lot.added_volume_ref_m3 for lot in oil.lots)
    assert volume == pytest.approx(265.5e-6, abs=1.5e-6)
    counted = [c.purpose for c in oil.captures if c.counts]
    assert counted == ["pour", "pour", "bleed"]


def test_each_lots_trace_is_exported(mixed):
    names = trace_names(mixed.record)
    assert names["pour L-0421"] == names["pour"] != names["pour L-0417"]
    assert {"pour L-0417", "pour", "charge", "hold"} <= as_json(mixed)["traces"].keys()


def test_a_trace_that_is_but_one_part_has_no_target(mixed, filed):
    assert pour_goal_kg(mixed.record.oil) is None
    oil = filed[0].record.oil
    assert pour_goal_kg(oil) == oil.terms.pour_shown_kg


def test_of_a_plain_unit_there_is_no_more_to_say(filed):
    record = filed[0].record
    assert weighing_lines(record.oil, WORDS) == []
    assert by_hand_lines(record, WORDS) == []
    assert "pour L-0417" not in trace_names(record)


def test_a_record_of_before_reads_as_it_did(filed):
    """Records of format 1 written before these keys were there."""
    now = filed[0].record.as_json()
    oil = {k: v for k, v in now["oil"].items() if k != "lots"}
    keys = ("purpose", "shown_kg", "trace_sha256", "utc")
    oil["captures"] = [{k: c[k] for k in keys} for c in oil["captures"]]
    charge = {k: v for k, v in now["charge"].items() if k != "by_hand"}
    old = record_in({**now, "oil": oil, "charge": charge})
    assert lots_of(old.oil) == ["L-0417"]
    assert weighing_lines(old.oil, WORDS) == []
    assert by_hand_lines(old, WORDS) == []
    assert trace_names(old) == trace_names(filed[0].record)
