"""The data sheet of a shipment: figures of the record, what it goes by, and the cautions."""

import json
from dataclasses import replace

import page
import pytest
from pypdf import PdfReader

from benchstation.bench.commands.shipping import specification_of
from benchstation.demo import shop as demo
from benchstation.domain.disposition import Shipment, Standing
from benchstation.domain.events import UnitDisposed
from benchstation.domain.shipping import UN_3164, Consignment, figures_of, ship
from benchstation.driver_api.errors import StationError
from benchstation.physics.shipping import NOTE
from benchstation.quantities.units import Dimension, UnitSystem, shown
from benchstation.reports.archive import attached_in
from benchstation.reports.data_sheet import CAUTIONS, write_data_sheet
from benchstation.reports.export import filed_record
from benchstation.reports.record_check import require_same_pages
from tests.stepped_bench import START, make_bench

BURST_PA = 400e5
TO = Consignment("Kim & Söhne <b>", "Kiln Lane 4\nWells", "K-9", "carton 1 of 2", UN_3164)


@pytest.fixture(scope="module")
def shipped(tmp_path_factory):
    """A store with one unit that QA released."""
    bench = make_bench(tmp_path_factory.mktemp("sheet"))
    bench.work_to(None, serial="S-1")
    store = bench.store
    unit = store.entries(kind="unit.filed")[-1].event.unit_id
    store.append([UnitDisposed(unit, "released", "seen")], person=demo.QA, utc=START)
    yield store, unit
    store.close()


def sheet(shipped, to, path):
    """Write the sheet as if the unit were shipped so; return its text."""
    store, unit = shipped
    filed = filed_record(store, unit)
    specification = specification_of(store, filed.record)
    figures = figures_of(filed.record, specification, to.test_gauge_pa, to.burst_gauge_pa)
    event = ship(unit, filed.record, figures, to)
    filed = with_shipment(filed, event)
    write_data_sheet(filed, figures, path)
    pages = PdfReader(path).pages
    return filed, " ".join(" ".join(page.extract_text() for page in pages).split())


def with_shipment(filed, event):
    told = Shipment(event, event, "Quin Berger", START, 77, "bench-1")
    disposition = replace(filed.disposition, standing=Standing.SHIPPED, shipments=(told,))
    return replace(filed, disposition=disposition)


def test_the_sheet_says_to_whom_what_and_by_which_entry(shipped, tmp_path):
    filed, text = sheet(shipped, TO, tmp_path / "a.pdf")
    for said in ("S-1", "Kim & Söhne <b>", "Kiln Lane 4 / Wells", "K-9", "carton 1 of 2"):
        assert said in text
    assert "UN 3164" in text
    assert "bench-1 entry 77" in text
    assert filed.sha256[:32] in text.replace(" ", "") or filed.sha256[:32] in text
    assert "PASS, shipped".casefold() in text.casefold()


@pytest.mark.parametrize("profile", ["3a", "ua1"])
def test_a_judge_of_archives_and_one_of_accessible_files_accept_it(shipped, tmp_path, profile):
    sheet(
        shipped,
        replace(TO, clause="cfr_f4", declared=True, burst_gauge_pa=BURST_PA),
        tmp_path / "a.pdf",
    )
    found = page.validate_pdf_bytes((tmp_path / "a.pdf").read_bytes(), profile=profile)
    assert [(f.rule_id, f.message) for f in found.failures] == []
    assert found.is_compliant
    assert found.rules.total > 100


def test_the_record_is_attached_and_says_of_which_pages(shipped, tmp_path):
    filed, _ = sheet(shipped, TO, tmp_path / "a.pdf")
    attached, pages = attached_in((tmp_path / "a.pdf").read_bytes(), "a.pdf")
    data = json.loads(attached)
    assert data["paper"] == {"what": "data sheet", "pages_sha256": pages}
    assert data["record_sha256"] == filed.sha256
    assert data["standing"]["shipments"][0]["customer"] == TO.customer
    require_same_pages(data, pages, "a.pdf")


def test_the_cautions_and_whose_decision_it_is_are_always_there(shipped, tmp_path):
    _, text = sheet(shipped, TO, tmp_path / "a.pdf")
    for said in (*CAUTIONS, NOTE):
        assert said in text
    assert "the rule holds" in text


def test_a_clause_stands_with_its_figures_and_what_rests_on_a_word(shipped, tmp_path):
    to = replace(TO, clause="cfr_f4", declared=True, burst_gauge_pa=BURST_PA)
    _, text = sheet(shipped, to, tmp_path / "a.pdf")
    assert "49 CFR 173.306 (f)(4)" in text
    assert str(shown(BURST_PA, Dimension.PRESSURE, UnitSystem.METRIC)) in text
    assert "by the word of Quin Berger alone; no figure here shows it" in text
    assert "UN 3164" not in text


def test_the_figures_are_those_that_the_command_line_works_out(shipped):
    store, unit = shipped
    record = filed_record(store, unit).record
    found = figures_of(record, specification_of(store, record))
    assert found.amount_kg == record.charge.amount_kg
    # The gas as captured, moved to 20 °C, is the charge at the reference temperature.
    assert found.charge_20c_gauge_pa == pytest.approx(record.charge.terms.charge_gauge_pa, rel=0.03)
    assert found.charge_70f_gauge_pa > found.charge_20c_gauge_pa


def test_without_a_shipment_there_is_no_sheet(shipped, tmp_path):
    store, unit = shipped
    filed = filed_record(store, unit)
    figures = figures_of(filed.record, specification_of(store, filed.record))
    with pytest.raises(StationError, match="no shipment on record"):
        write_data_sheet(filed, figures, tmp_path / "a.pdf")
    assert list(tmp_path.iterdir()) == []


def test_the_same_shipment_gives_the_same_bytes(shipped, tmp_path):
    for name in ("a.pdf", "b.pdf"):
        sheet(shipped, TO, tmp_path / name)
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
