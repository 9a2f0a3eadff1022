"""A name that was amended stands so wherever the unit is named, and the earlier one leads to it."""

import pytest
from pypdf import PdfReader

from benchstation.domain.amending import current_value
from benchstation.domain.events import UnitDisposed
from benchstation.quantities.formatter import METRIC
from benchstation.quantities.units import UnitSystem
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record, write_json
from benchstation.reports.label import label_lines, write_label
from benchstation.reports.record_check import against_journal, exported_in
from benchstation.reports.record_code import label_text
from benchstation.screens.audit.page import Audit
from benchstation.screens.model.elements import Tone
from benchstation.screens.records.page import Records
from benchstation.store.queries import get_unit, record_of
from benchstation.store.words_on_units import facts_on
from tests.stepped_bench import START


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


def test_searches_by_an_earlier_serial_lead_to_the_unit(desk):
    """Saved searches, and the audit trail of a unit."""
    unit = desk.filed()
    desk.amend(unit, "serial", "R-78")
    for question in (f"serial:R-{unit}", "serial:R-78", f"R-{unit}"):
        assert [row.unit_id for row in Records(desk.store).find(question)] == [unit]
        if ":" in question:
            assert len(Audit(desk.store).find(question).rows) > 2
    assert Records(desk.store).find(f"customer:R-{unit}") == []


def test_what_fails_as_amended_is_no_pass_even_when_it_is_released(desk, tmp_path):
    """It stood green as "pass, released" once QA had taken the hold off."""
    unit = desk.filed()
    assert Records(desk.store).find(f"verdict:pass R-{unit}")
    torque, right = "screw/torque1", filed_record(desk.store, unit).decision
    desk.amend(unit, torque, "80 lbf in", "inch-pound")
    amended = current_value(record_of(desk.store, unit), [*events_of(desk, unit)], torque)
    assert amended == pytest.approx(80 * 0.112984829, rel=1e-6), "NIST SP 811 appendix B.8"
    desk.store.append([UnitDisposed(unit, "released", "fit for it")], person="ben", utc=START)
    filed, row = filed_record(desk.store, unit), get_unit(desk.store, unit)
    assert (right, filed.decision, row.decision) == ("pass", "deviation", "deviation")
    assert label_lines(filed, METRIC)[-1] == "DEVIATION, RELEASED"
    opened = Records(desk.store).open(unit, METRIC)
    assert (opened.front.verdict, opened.row.tone) == ("deviation", Tone.CAUTION)
    assert Records(desk.store).find(f"verdict:pass R-{unit}") == []
    assert Records(desk.store).find(f"verdict:deviation R-{unit}")
    assert "DEVIATION" in text_of(write_certificate(filed, tmp_path / "c.pdf"))
    entry = next(r for r in Audit(desk.store).find(f"unit:{unit}").rows if "amended" in r.title)
    assert "is 9.03879 in SI units" in entry.below[1]
    desk.amend(unit, torque, "8.1 N m")
    assert filed_record(desk.store, unit).decision == "pass", "amended once more, it passes"
    assert get_unit(desk.store, unit).decision == "pass"


def events_of(desk, unit):
    return (fact.event for fact in facts_on(desk.store, unit))


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
