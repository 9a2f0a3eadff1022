"""Papers from the window: written and put on record first, then printed, opened or offered."""

from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader
from PySide6.QtPrintSupport import QPrinter
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from benchstation.screens.bench.task import PAPERS
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.proof import ProofView
from benchstation.ui.shell.printing import LABEL_MM, NO_PRINTER, NO_VIEWER, Paper, layout_of
from tests.ui.fake_moments import filed, pour
from tests.ui.fake_station import REFUSED, FakeStation, record_front, record_row

FRONT = record_front(record_row(0))
PROOF = ProofView(
    "pass", "waits for QA's release", Tone.QUIET, FRONT.figures, (), (), ("MR-2231",), "u1"
)


class WritingStation(FakeStation):
    """Writes a real file of one page where a paper is asked for."""

    def _written(self, name, folder):
        if self.failure is not None:
            return self._answer([])
        folder.mkdir(exist_ok=True)
        canvas = Canvas(str(folder / name), pagesize=(LABEL_MM[0] * mm, LABEL_MM[1] * mm))
        canvas.drawString(5 * mm, 40 * mm, name)
        canvas.save()
        return self._answer([folder / name])

    def write_label(self, unit_id, folder):
        self.labels.append((unit_id, folder))
        return self._written(f"{unit_id}_label.pdf", folder)

    def write_certificate(self, unit_id, folder):
        self.certificates.append((unit_id, folder))
        return self._written(f"{unit_id}.pdf", folder)


class FilePrinters:
    """Printers that print into a file; nobody is asked which."""

    def __init__(self, out: Path, names=("Label 203", "Office")) -> None:
        self.out, self._names, self.began_at = out, names, []

    def names(self):
        return self._names

    def choose(self, parent, layout, name, chosen):
        self.began_at.append((name, layout))
        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        printer.setOutputFileName(str(self.out))
        printer.setFullPage(True)
        printer.setPageLayout(layout)
        printer.setResolution(203)
        chosen(printer)


@pytest.fixture
def records(open_bench, qtbot, tmp_path):
    """The page Records with the record of ``u3`` open, and printers that print into a file."""
    bench = open_bench(pour(), station=WritingStation)
    bench.key("F4")
    page = bench.page = bench.window.made["records"]
    qtbot.waitUntil(lambda: page.list.rows.rowCount() > 0, timeout=2000)
    page.list.setCurrentIndex(page.list.rows.index(3, 0))
    qtbot.waitUntil(lambda: page.detail.shown is not None, timeout=2000)
    page.folder.setText(str(tmp_path / "papers"))
    page.printing.printers = FilePrinters(tmp_path / "out.pdf")
    return bench


def test_a_label_is_written_first_and_that_very_file_is_printed(records, qtbot, tmp_path):
    records.key("Ctrl+K")
    qtbot.waitUntil(lambda: records.said.startswith("Printed"), timeout=5000)
    assert records.station.labels == [("u3", tmp_path / "papers")]
    assert records.said == "Printed: u3_label.pdf, 1 page."
    (page,) = PdfReader(tmp_path / "out.pdf").pages
    assert [float(x) for x in page.mediabox][2:] == pytest.approx([227, 142], abs=1)
    ((name, layout),) = records.page.printing.printers.began_at
    assert name == ""
    assert layout == layout_of(Paper.LABEL)


def test_a_record_is_printed_on_its_own_sheet(records, qtbot, tmp_path):
    records.key("Ctrl+P")
    qtbot.waitUntil(lambda: records.said.startswith("Printed"), timeout=5000)
    assert records.station.certificates == [("u3", tmp_path / "papers")]
    assert records.page.printing.printers.began_at[0][1] == layout_of(Paper.RECORD)
    assert (tmp_path / "papers" / "u3.pdf").exists()


def test_each_paper_begins_at_the_printer_that_it_went_to_last(records, qtbot):
    printing, began = records.page.printing, records.page.printing.printers.began_at
    printing._last = {Paper.LABEL: "Label 203", Paper.RECORD: "taken away"}
    records.key("Ctrl+K")
    assert began[-1][0] == "Label 203"
    qtbot.waitUntil(lambda: records.said.startswith("Printed"), timeout=5000)
    records.key("Ctrl+P")
    assert began[-1][0] == "", "it is set up no longer"
    qtbot.waitUntil(lambda: "u3.pdf" in records.said, timeout=5000)
    qtbot.waitUntil(lambda: records.said.startswith("Printed"), timeout=5000)


def test_without_a_printer_it_says_so_and_offers_the_file(records, qtbot, tmp_path):
    records.page.printing.printers = FilePrinters(tmp_path / "out.pdf", names=())
    records.key("Ctrl+K")
    path = tmp_path / "papers" / "u3_label.pdf"
    qtbot.waitUntil(lambda: records.said.startswith(NO_PRINTER), timeout=2000)
    assert str(path) in records.said
    assert path.exists()
    assert not (tmp_path / "out.pdf").exists()


@pytest.mark.parametrize("opens", [True, False])
def test_open_shows_the_written_file_or_says_that_nothing_can(records, qtbot, tmp_path, opens):
    seen = []
    records.page.printing.open_file = lambda path: seen.append(path) or opens
    records.key("Ctrl+O")
    qtbot.waitUntil(lambda: bool(seen), timeout=2000)
    assert seen == [tmp_path / "papers" / "u3.pdf"]
    assert records.said.startswith("Opened: " if opens else NO_VIEWER)
    assert str(seen[0]) in records.said


@pytest.mark.qt_log_ignore("QPainter::begin", extend=True)
def test_a_refusal_and_a_failing_printer_are_told_and_can_be_tried_again(records, qtbot, tmp_path):
    records.station.failure = REFUSED
    records.key("Ctrl+P")
    qtbot.waitUntil(lambda: records.said == str(REFUSED), timeout=2000)
    records.station.failure = None
    records.page.printing.printers.out = tmp_path / "no such folder" / "out.pdf"
    records.key("Ctrl+P")
    qtbot.waitUntil(lambda: "did not take the paper" in records.said, timeout=5000)
    records.page.printing.printers.out = tmp_path / "out.pdf"
    records.key("Ctrl+P")
    qtbot.waitUntil(lambda: records.said.startswith("Printed"), timeout=5000)


def test_one_paper_at_a_time(records):
    records.station.later = True
    records.key("Ctrl+P")
    records.key("Ctrl+K")
    assert records.said == "One paper is being made already."
    assert records.station.labels == []


def test_the_filed_unit_prints_its_label_from_the_bench(open_bench, qtbot, tmp_path, monkeypatch):
    view = filed()
    task = replace(view.task, actions=(*PAPERS, *view.task.actions))
    bench = open_bench(replace(view, task=task, filed=PROOF), station=WritingStation)
    page = bench.window.bench
    monkeypatch.setattr("benchstation.ui.shell.printing.documents", lambda: tmp_path / "papers")
    page.printing.printers = FilePrinters(tmp_path / "out.pdf")
    bench.key("L")
    qtbot.waitUntil(lambda: bench.said.startswith("Printed"), timeout=5000)
    assert bench.station.labels == [("u1", tmp_path / "papers")]
    assert bench.station.acted == [], "it is no act of the bench"
