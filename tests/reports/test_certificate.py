"""The record on paper: readable, searchable, honest about trouble, the same bytes every time."""

import re

import pytest
from pypdf import PdfReader

from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports.certificate import write_certificate
from tests.reports.paper_pages import MOST_PAGES


def text_of(path) -> tuple[str, int]:
    reader = PdfReader(path)
    text = " ".join(page.extract_text() for page in reader.pages)
    return " ".join(text.split()), len(reader.pages)


def test_a_good_unit_on_paper(filed, tmp_path):
    text, pages = text_of(write_certificate(filed[0], tmp_path / "a.pdf"))
    assert pages == MOST_PAGES
    for part in (
        "Rebuild record T-1",
        "PASS",
        "not released yet",
        "pass; conforms with over 99.99 %",
    ):
        assert part in text
    assert filed[0].sha256 in text
    assert filed[0].entry.hash in text


def test_a_troubled_unit_says_so_in_as_few_pages(filed, tmp_path):
    text, pages = text_of(write_certificate(filed[1], tmp_path / "a.pdf"))
    assert pages <= MOST_PAGES
    assert "judged deviation" in text
    assert "ON HOLD" in text
    assert "QA hold: deviation: close and bleed" in text
    assert "Alarm, high warning" in text
    assert "bled past the mark" in text
    assert "Earlier result, oil" in text
    assert "Seals and wiper" in text


def test_markup_in_a_serial_is_shown_not_obeyed(filed, tmp_path):
    text, _ = text_of(write_certificate(filed[1], tmp_path / "a.pdf"))
    assert "T-<b>2</b>" in text


def test_inch_pound_values_are_the_same_values(filed, tmp_path):
    text, _ = text_of(write_certificate(filed[0], tmp_path / "a.pdf", UnitSystem.INCH_POUND))
    oz = filed[0].record.oil.net_shown_kg / 0.028349523125
    psi = filed[0].record.charge.settled_gauge_pa / 6894.757293168361
    (net, ounces), (settled, pounds) = (
        re.search(rf"\((\d+\.(\d+)) ± \S+\) {unit} \(U, k = 2\.\d\d\)", text).groups()
        for unit in ("oz", "psi")
    )
    assert (net, settled) == (f"{oz:.{len(ounces)}f}", f"{psi:.{len(pounds)}f}")


def test_the_same_record_gives_the_same_bytes(filed, tmp_path):
    first = write_certificate(filed[0], tmp_path / "a.pdf").read_bytes()
    second = write_certificate(filed[0], tmp_path / "b.pdf").read_bytes()
    assert first == second


def test_fonts_are_embedded(filed, tmp_path):
    path = write_certificate(filed[0], tmp_path / "a.pdf")
    fonts = PdfReader(path).pages[0]["/Resources"]["/Font"]
    for font in fonts.values():
        described = font.get_object().get("/FontDescriptor")
        if described is not None:
            assert "/FontFile2" in described.get_object()


def test_a_character_the_font_lacks_is_written_as_its_code(filed, tmp_path):
    from dataclasses import replace

    record = replace(filed[0].record, order="Auftrag 山")
    text, _ = text_of(write_certificate(replace(filed[0], record=record), tmp_path / "a.pdf"))
    assert "Auftrag [U+5C71]" in text


def test_a_folder_that_is_not_there_leaves_nothing_half_written(filed, tmp_path):
    with pytest.raises(OSError, match="No such file"):
        write_certificate(filed[0], tmp_path / "missing" / "a.pdf")
    assert list(tmp_path.iterdir()) == []


def test_the_leak_rate_has_one_notation(filed, tmp_path):
    text, _ = text_of(write_certificate(filed[0], tmp_path / "a.pdf"))
    hold = filed[0].record.hold
    words = QuantityFormatter(UnitSystem.METRIC)
    measured = words.leak(hold.leak_pa_m3_s, 2 * hold.u_leak_pa_m3_s)
    assert "± 0." in measured
    on_paper = str.maketrans("⁻⁰¹²⁴⁵⁶⁷⁸⁹", "-012456789")
    assert f"{measured} (k = 2) in".translate(on_paper).replace("10-³", "10-3") in text
    allowed = words.leak(hold.allowed_pa_m3_s).translate(on_paper)
    assert allowed.replace("10-³", "10-3") in text
    assert not re.search(r"\de[-+]?\d\d Pa", text)
