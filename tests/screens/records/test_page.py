"""Records for QA: found by serial, opened with both traces, exported, verified."""

import json

import pytest

from benchstation.demo.materials import KIT, WRENCH, part_lot
from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.records import words_for_lot
from benchstation.screens.records.page import Records
from benchstation.store.errors import NotOnRecordError
from tests.stepped_bench import START


@pytest.fixture
def records(bench):
    bench.work_to(None, serial="MR-77/a")
    return Records(bench.store)


def test_found_by_part_of_the_serial_whatever_its_case(records):
    (row,) = records.find("mr-77")
    assert row.serial == "MR-77/a"
    assert row.decision == "pass"
    assert row.tone is Tone.QUIET
    assert row.state == "not released yet"
    assert records.find("no-such") == []


def test_found_by_order_lot_family_and_name(records):
    for words in ("L-0417", "rescue vehicle", "mira", "KOFLER"):
        assert [row.serial for row in records.find(words)] == ["MR-77/a"], words
    assert records.find("wieland") == []
    assert records.find("")[0].technician == "Mira Kofler"
    assert records.find("")[0].page_key == "", "there are no older ones"


@pytest.mark.parametrize("lot", [KIT, KIT.lower(), part_lot(KIT, "RS-14"), WRENCH, "L-0417"])
def test_the_units_of_a_lot_are_those_of_that_lot_and_of_none_that_begins_so(records, lot):
    assert [row.serial for row in records.find(words_for_lot(lot))] == ["MR-77/a"]
    assert [row.serial for row in records.find(lot[:-1])] == ["MR-77/a"], "as words, it is found"
    assert records.find(words_for_lot(lot[:-1])) == []
    assert records.find(words_for_lot("MR-77/a")) == [], "a serial is no lot"


def test_opened_with_both_traces_and_anchor(records):
    (row,) = records.find("")
    detail = records.open(row.unit_id, QuantityFormatter(UnitSystem.METRIC))
    assert [t.title for t in detail.traces] == ["Pour", "Charge"]
    for trace in detail.traces:
        assert trace.seconds[0] == 0
        assert trace.seconds[-1] > 0
        assert len(trace.seconds) == len(trace.values)
    assert "bench-2 entry" in detail.anchor
    titles = [g.title for g in detail.groups]
    assert titles[0] == "What left with this serial"
    assert titles[1:] == ["Unit", "Oil", "Gas charge", "Disc stacks, from the piston", "Remarks"]
    assert [a.id for a in detail.actions] == ["released", "held", "rejected", "2"]
    assert detail.actions[-1].label == "Two release"


def test_exported_under_a_safe_name(records, tmp_path):
    (row,) = records.find("")
    pdf, exported, label = records.export(row.unit_id, tmp_path / "out", UnitSystem.METRIC)
    assert label.name == f"{pdf.stem}_label.pdf"
    label.unlink()
    assert records.label(row.unit_id, label.parent, UnitSystem.METRIC) == (label,)
    assert label.read_bytes().startswith(b"%PDF")
    assert pdf.parent == exported.parent == tmp_path / "out"
    assert pdf.name.startswith("MR-77_a_2026")
    assert pdf.read_bytes().startswith(b"%PDF")
    assert json.loads(exported.read_text("utf-8"))["record"]["serial"] == "MR-77/a"


def test_a_missing_unit_is_said(records):
    with pytest.raises(NotOnRecordError):
        records.open("no-such", QuantityFormatter(UnitSystem.METRIC))


def test_a_unit_without_a_record_says_why(bench):
    bench.work_to(StepKind.BLEED, serial="T-1")
    records, words = Records(bench.store), QuantityFormatter(UnitSystem.METRIC)
    unit = bench.session.rebuild.unit_id

    def said() -> str:
        detail = records.open(unit, words)
        assert (detail.groups, detail.traces, detail.actions, detail.anchor) == ((), (), (), "")
        assert detail.row.serial == "T-1"
        return detail.no_record

    who = f"{START.astimezone():%Y-%m-%d} "
    assert said().startswith(f"No record yet: it is on the bench, begun {who}")
    assert "by Mira Kofler" in said()
    bench.session.act("set_aside", {"reason": "waits for seals"})
    assert said().startswith(f"No record yet: set aside {who}")
    assert "Reason: waits for seals" in said()
    bench.session.act("fetch", {"unit": unit})
    bench.session.act("abandon", {"reason": "the tube is scored"})
    assert said().startswith(f"No record: abandoned {who}")
    assert "Reason: the tube is scored" in said()
    assert "stays in the journal" in said()


def test_a_filed_unit_has_no_such_words(records):
    (row,) = records.find("")
    assert records.open(row.unit_id, QuantityFormatter(UnitSystem.METRIC)).no_record == ""
