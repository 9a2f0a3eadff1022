"""A name that was amended stands so wherever the unit is named, and the earlier one leads to it."""

from pypdf import PdfReader

from benchstation.quantities.formatter import METRIC
from benchstation.quantities.units import UnitSystem
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record, write_json
from benchstation.reports.label import label_lines, write_label
from benchstation.reports.record_check import against_journal, exported_in
from benchstation.reports.record_code import label_text
from benchstation.screens.records.page import Records


def text_of(path):
    return " ".join(" ".join(p.extract_text() for p in PdfReader(path).pages).split())


def test_label_paper_and_files_have_the_name_as_amended(desk, tmp_path):
    unit = desk.filed("WO-1")
    before = filed_record(desk.store, unit)
    for field, new in (("serial", "R-77"), ("order", "WO-2"), ("position", "rear left")):
        desk.amend(unit, field, new)
    filed, records = filed_record(desk.store, unit), Records(desk.store)
    assert label_lines(filed, METRIC)[1] == "WO-2 rear left"
    assert "R-77" in text_of(write_label(filed, tmp_path / "label.pdf"))
    assert records.label(unit, tmp_path, UnitSystem.METRIC)[0].name.startswith("R-77_")
    paper = text_of(write_certificate(filed, tmp_path / "record.pdf"))
    assert "Rebuild record R-77" in paper
    assert "order WO-2, rear left" in paper
    assert f"Serial: {before.serial} is amended to R-77" in paper, "the original stands beside it"
    for label in (label_text(before), label_text(filed)):
        (row,) = records.find(label)
        assert row.unit_id == unit, "the label that is on the unit already, and the new one"
        assert "R-77" in records.about(label)


def test_the_customer_of_the_last_shipment_is_as_amended_on_paper_and_screen(desk, tmp_path):
    unit = desk.filed()
    desk.say(unit)
    desk.ship(unit)
    desk.amend(unit, "customer", "Lou")
    desk.amend(unit, "address", "Mill Road 1")
    filed, records = filed_record(desk.store, unit), Records(desk.store)
    assert "Customer: Lou, Mill Road 1" in text_of(write_certificate(filed, tmp_path / "c.pdf"))
    (sheet,) = records.data_sheet(unit, tmp_path, UnitSystem.METRIC)
    assert "Lou" in text_of(sheet)
    assert "Kim" not in text_of(sheet)
    said = [line for line, _ in records.open(unit, METRIC).front.said]
    assert any(line.startswith("Shipped to Lou") for line in said)


def test_an_export_of_before_still_verifies_and_says_what_came_since(desk, tmp_path):
    unit = desk.filed()
    desk.say(unit)
    data = exported_in(
        write_json(filed_record(desk.store, unit), tmp_path / "r.json").read_bytes(), ""
    )
    steps = (
        (lambda: desk.ship(unit), "shipped"),
        (lambda: desk.amend(unit, "customer", "Lou"), "shipped"),
        (lambda: desk.say(unit, "held"), "shipped, then on hold"),
        (lambda: desk.act("take_returned", unit=unit, complaint="knocks"), "returned"),
        (lambda: desk.say(unit, "rejected"), "rejected"),
    )
    assert "said nothing since" in against_journal(data, desk.store, "").later
    for step, stands in steps:
        step()
        assert f"now {stands} (" in against_journal(data, desk.store, "").later
