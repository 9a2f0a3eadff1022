"""A file drawn onto a printer: dot by dot at its own resolution, whole, and never scaled up."""

import numpy as np
import pypdfium2
import pytest
from pypdf import PdfReader
from PySide6.QtCore import QMarginsF
from PySide6.QtGui import QPageLayout, QPageSize
from PySide6.QtPrintSupport import QPrinter
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from zxingcpp import read_barcodes

from benchstation.driver_api.errors import StationError
from benchstation.reports.export import filed_record
from benchstation.reports.label import write_label
from benchstation.ui.shell.pdf_drawing import draw_file
from benchstation.ui.shell.printing import LABEL_MM, Paper, layout_of
from tests.stepped_bench import make_bench

BAR = 0.25 * mm


@pytest.fixture
def label(tmp_path):
    """A label-sized file with thin bars and a word."""
    path = tmp_path / "label.pdf"
    canvas = Canvas(str(path), pagesize=(LABEL_MM[0] * mm, LABEL_MM[1] * mm))
    for n in range(40):
        canvas.rect(10 * mm + 2 * n * BAR, 5 * mm, BAR, 9 * mm, stroke=0, fill=1)
    canvas.drawString(5 * mm, 40 * mm, "MR-3102")
    canvas.showPage()
    canvas.save()
    return path


def printer_to(path, dpi, layout=None):
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(path))
    printer.setFullPage(True)
    printer.setPageLayout(layout or layout_of(Paper.LABEL))
    printer.setResolution(dpi)
    return printer


def printed(path):
    """Return the dots that were sent for the first page of a printed file."""
    bands = [np.asarray(found.image.convert("L")) for found in PdfReader(path).pages[0].images]
    return np.vstack(bands)


@pytest.mark.parametrize("dpi", [203, 300])
def test_a_label_is_printed_dot_by_dot_in_black_and_white(qapp, label, tmp_path, dpi):
    out = tmp_path / "out.pdf"
    assert draw_file(label, printer_to(out, dpi)) == 1
    dots = printed(out)
    wanted = tuple(round(length / 25.4 * dpi) for length in LABEL_MM)
    assert dots.shape == (wanted[1], wanted[0]), "not scaled"
    assert set(np.unique(dots)) == {0, 255}, "no grey that a label printer would smear"
    row = dots[wanted[1] - round(9 / 25.4 * dpi)]
    edges = np.flatnonzero(np.diff(row.astype(int)) < 0)
    assert len(edges) == 40, "every bar stands apart"
    assert abs(np.diff(edges) - 2 * 0.25 / 25.4 * dpi).max() <= 1.01
    sizes = [float(x) for x in PdfReader(out).pages[0].mediabox][2:]
    assert sizes == pytest.approx([LABEL_MM[0] * mm, LABEL_MM[1] * mm], abs=1)


def test_what_is_printed_is_what_the_file_shows(qapp, label, tmp_path):
    out = tmp_path / "out.pdf"
    draw_file(label, printer_to(out, 600))
    page = pypdfium2.PdfDocument(label)[0]
    shown = np.asarray(page.render(scale=600 / 72).to_pil().convert("L"))
    dots = printed(out)
    rows, columns = (min(a, b) for a, b in zip(shown.shape, dots.shape, strict=True))
    near = abs(shown[:rows, :columns].astype(int) - dots[:rows, :columns]) < 128
    assert near.mean() > 0.99
    assert (dots < 128).mean() == pytest.approx((shown < 128).mean(), rel=0.02)


def test_a_larger_page_is_made_smaller_and_all_pages_come(qapp, tmp_path):
    path, out = tmp_path / "two.pdf", tmp_path / "out.pdf"
    canvas = Canvas(str(path), pagesize=(210 * mm, 297 * mm))
    for _ in range(2):
        canvas.rect(200 * mm, 2 * mm, 9 * mm, 9 * mm, fill=1)
        canvas.showPage()
    canvas.save()
    letter = QPageSize(QPageSize.PageSizeId.Letter)
    layout = QPageLayout(letter, QPageLayout.Orientation.Portrait, QMarginsF())
    assert draw_file(path, printer_to(out, 150, layout)) == 2
    assert len(PdfReader(out).pages) == 2
    dots = printed(out)
    assert dots.shape[0] == (11 * 150)
    assert (dots < 128).any(), "its lower corner is on the sheet"


@pytest.mark.qt_log_ignore("QPainter::begin", extend=True)
def test_a_printer_that_takes_nothing_says_so(qapp, label, tmp_path):
    printer = printer_to(tmp_path / "no such folder" / "out.pdf", 203)
    with pytest.raises(StationError, match="did not take"):
        draw_file(label, printer)


@pytest.fixture(scope="module")
def own_label(tmp_path_factory):
    """The label that the program writes for a filed unit, and the unit's serial."""
    folder = tmp_path_factory.mktemp("own")
    bench = make_bench(folder)
    bench.work_to(None, serial="MR-3102")
    unit = bench.store.entries(kind="unit.filed")[-1].event.unit_id
    yield write_label(filed_record(bench.store, unit), folder / "label.pdf"), "MR-3102"
    bench.store.close()


@pytest.mark.parametrize("dpi", [203, 300])
def test_both_codes_of_the_printed_label_are_read_by_a_scanner(qapp, own_label, tmp_path, dpi):
    path, serial = own_label
    out = tmp_path / "out.pdf"
    draw_file(path, printer_to(out, dpi))
    read = [code.text for code in read_barcodes(printed(out))]
    assert len(read) == 2
    assert all(text.startswith(serial) for text in read), read
