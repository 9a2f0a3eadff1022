"""Draws a PDF file onto a printer, at the printer's own dots.

Importing this imports the PDF library: do it late. It may run in any thread; one draws at a time,
since the library bears no two.
"""

import math
import threading
from pathlib import Path

import pypdfium2 as pdfium
import pypdfium2.raw as pdfium_raw
from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter
from PySide6.QtPrintSupport import QPrinter

from benchstation.driver_api.errors import StationError

POINTS_PER_INCH, FINEST_DPI, COARSE_DPI = 72.0, 600, 310
"""Up to the last a printer has no greys worth smoothing: label printers have 203 or 300."""
BAND_PX, WHITE = 512, (255, 255, 255, 255)
SHARP = (
    pdfium_raw.FPDF_RENDER_NO_SMOOTHPATH
    | pdfium_raw.FPDF_RENDER_NO_SMOOTHIMAGE
    | pdfium_raw.FPDF_RENDER_NO_SMOOTHTEXT
)
_ONE_AT_A_TIME = threading.Lock()
SAME_SIZE = 0.98
"""A page that is so nearly as large as the sheet is drawn dot by dot and never scaled."""


def draw_file(path: Path, printer: QPrinter) -> int:
    """Print every page of a file; return how many. The file is read once, whole.

    Raises ``StationError`` when the printer does not take it.
    """
    with _ONE_AT_A_TIME:
        document = pdfium.PdfDocument(path.read_bytes())
        try:
            return _draw_all(document, printer)
        finally:
            document.close()


def _draw_all(document: pdfium.PdfDocument, printer: QPrinter) -> int:
    painter = QPainter()
    try:
        if not painter.begin(printer):
            raise _refused(printer)
        # Else bars and letters would be smeared on the way to the system's printing.
        painter.setRenderHint(QPainter.RenderHint.LosslessImageRendering)
        count = len(document)
        for number in range(count):
            if number and not printer.newPage():
                raise _refused(printer)
            page = document[number]
            _draw(page, painter, printer)
            page.close()
        if not painter.end():
            raise _refused(printer)
        return count
    finally:
        if painter.isActive():
            painter.end()


def _refused(printer: QPrinter) -> StationError:
    return StationError(
        "the printer did not take the paper.",
        where=printer.printerName() or printer.outputFileName(),
        advice="Look whether it is switched on and has paper; the file itself is written.",
    )


def _draw(page: pdfium.PdfPage, painter: QPainter, printer: QPrinter) -> None:
    """Draw a page in bands; it is made smaller only where the sheet is too small for it."""
    dpi = printer.resolution()
    wide, high = (length * dpi / POINTS_PER_INCH for length in page.get_size())
    sheet = printer.pageLayout().fullRectPixels(dpi)
    fit = min(sheet.width() / wide, sheet.height() / high)
    fit = 1.0 if fit >= SAME_SIZE else fit
    # Finer than this shows nothing more of our papers, and takes memory and time.
    coarser = math.ceil(dpi / FINEST_DPI)
    width, height = (max(1, round(length * fit / coarser)) for length in (wide, high))
    flags = pdfium_raw.FPDF_PRINTING | (SHARP if dpi <= COARSE_DPI else 0)
    for top in range(0, height, BAND_PX):
        rows = min(BAND_PX, height - top)
        bitmap = pdfium.PdfBitmap.new_native(width, rows, pdfium_raw.FPDFBitmap_BGRx)
        bitmap.fill_rect(WHITE, 0, 0, width, rows)
        pdfium_raw.FPDF_RenderPageBitmap(bitmap, page, 0, -top, width, height, 0, flags)
        image = QImage(bytes(bitmap.buffer), width, rows, bitmap.stride, QImage.Format.Format_RGB32)
        place = QRectF(0, top * coarser, width * coarser, rows * coarser)
        painter.drawImage(place, image)
        bitmap.close()
