"""The label: what stands on it, and that its codes are what their standards say."""

from dataclasses import replace

import pypdf
import pytest
from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel, QRNumber

from benchstation.domain.cautions import LABEL as CAUTION
from benchstation.quantities.formatter import METRIC
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import as_json
from benchstation.reports.fonts import STRONG
from benchstation.reports.label import (
    BARS_HEIGHT,
    LEAST_PT,
    MARGIN,
    SIZE,
    bars_of,
    label_lines,
    laid_out,
    write_label,
)
from benchstation.reports.record_code import label_text
from benchstation.reports.remarks import reference_charge


@pytest.fixture
def good(filed):
    return filed[0]


def test_it_says_what_the_unit_got(good, tmp_path):
    path = write_label(good, tmp_path / "label.pdf")
    (page,) = pypdf.PdfReader(path).pages
    assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(
        SIZE, abs=0.01
    )
    text = page.extract_text()
    record = good.record
    for said in (record.serial, record.family, "PASS", "20.0 °C", good.sha256[:16]):
        assert said in text
    assert record.filed_by.name in text
    assert "bar gauge" in text
    assert " mL" in text


def test_the_same_record_gives_the_same_bytes(good, tmp_path):
    one = write_label(good, tmp_path / "a.pdf").read_bytes()
    assert write_label(good, tmp_path / "b.pdf").read_bytes() == one
    assert list(tmp_path.glob("*.part")) == []


def test_the_square_code_holds_serial_and_hash(good):
    serial, short = label_text(good).rsplit(" ", 1)
    assert serial == good.record.serial
    assert good.sha256.startswith(short)
    assert len(short) == 16


def test_the_encoder_gives_the_codewords_of_the_standards_example():
    """ISO/IEC 18004, annex I: "01234567" as version 1-M; codewords written down from memory."""
    given = QRCode.createData(1, QRErrorCorrectLevel.M, [QRNumber("01234567")])
    wanted = "10200c566180" + "ec11" * 5 + "a524d4c1ed36c7872c55"
    assert bytes(given).hex() == wanted


@pytest.mark.parametrize("serial", ["MR-3101", "a b/9", "00123456", "X"])
def test_the_bars_end_in_the_check_symbol_of_the_standard(serial):
    """ISO/IEC 15417: (start + sum of place times value) modulo 103, then stop."""
    bars = bars_of(serial)
    bars.validate()
    bars.encode()
    *symbols, check, stop = bars.encoded
    values = symbols[:1] + [place * value for place, value in enumerate(symbols[1:], 1)]
    assert symbols[0] in (103, 104, 105)
    assert check == sum(values) % 103
    assert stop == 106
    assert bars.width <= SIZE[0]


def test_a_serial_that_no_bars_can_hold_has_the_square_code_alone(good, tmp_path):
    assert bars_of("Größe 9") is None
    assert bars_of("x" * 64) is None
    odd = replace(good, record=replace(good.record, serial="Größe-" + "9" * 58))
    assert write_label(odd, tmp_path / "label.pdf").stat().st_size > 1000


LONG = (
    "MR46-2026-000123-REAR",
    (
        "Rescue vehicle front, 46 mm, with long travel",
        "ORDER-2026-0451 Mountain Rescue North rear left",
        CAUTION,
        "Oil 262.0 mL at 20.0 °C",
        "Charge at 20.0 °C: 14.86 bar gauge",
        "MEASURED BY NO INSTRUMENT",
        "Specification not independent",
        "2026-03-03  Mira Kofler-Oberhauser",
        "PASS, AWAITING SECOND SIGNATURE",
    ),
)


def test_nothing_on_a_label_is_cut_or_too_small():
    serial, lines = LONG
    rows = laid_out(serial, lines, "record 76e9d85ad868fc85")
    said = " ".join(row.text for row in rows)
    assert said == " ".join((serial, *lines, "record 76e9d85ad868fc85"))
    assert min(row.size for row in rows) >= LEAST_PT
    assert rows[-1].y >= MARGIN
    bold = {row.text for row in rows if row.font == STRONG}
    assert lines[-1] in bold
    assert any(text and CAUTION.startswith(text) for text in bold)


def test_the_bars_are_free_of_what_a_usual_label_says(good):
    rows = laid_out(good.record.serial, label_lines(good, METRIC), "record 76e9d85ad868fc85")
    assert rows[-1].y >= MARGIN + BARS_HEIGHT


def test_a_word_longer_than_the_label_goes_on_in_the_next_row():
    rows = laid_out("9" * 90, ("x", "PASS"), "")
    assert "".join(row.text for row in rows).startswith("9" * 90)


def test_label_certificate_and_export_say_one_charge(good, tmp_path):
    filed, charge = good, good.record.charge
    name, judged, short = reference_charge(charge, METRIC)
    assert f"{name}: {short}" in label_lines(filed, METRIC)
    written = as_json(filed)["charge_at_reference"]
    assert METRIC.gauge(written["gauge_pa"]) == short
    assert (
        METRIC.judged_gauge(written["gauge_pa"], written["expanded_pa"], written["coverage_factor"])
        == judged
    )
    write_certificate(filed, tmp_path / "a.pdf")
    paper = " ".join(
        " ".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "a.pdf").pages).split()
    )
    assert f"{name} {judged}" in paper
    assert "in this room since" in paper
