"""Papers of a filed unit through the system's printer, or opened: always the very file on record.

Every paper is written first, by the same way as into a folder, so that the journal has the hash
of what was printed. Where there is no printer the file is offered in its place.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from enum import StrEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from PySide6.QtCore import QMarginsF, QObject, QSizeF, QStandardPaths, QUrl
from PySide6.QtGui import QDesktopServices, QPageLayout, QPageSize
from PySide6.QtWidgets import QDialog, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.bridge import Bridge, Message

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

NO_PRINTER = "No printer is set up on this computer."
NO_VIEWER = "No program on this computer opens it."
LABEL_MM = (80.0, 50.0)


class Paper(StrEnum):
    """What is printed or opened; each is also the id of its action."""

    LABEL = "print_label"
    RECORD = "print_record"
    OPENED = "open_paper"
    CHART = "print_chart"


NAMES = {Paper.LABEL: "label", Paper.RECORD: "record", Paper.OPENED: "record", Paper.CHART: "chart"}
Write = Callable[[], "Future[Sequence[Path]]"]
"""Writes a paper; the file that is printed comes first."""


def layout_of(paper: Paper) -> QPageLayout:
    """Return the sheet that a paper is made for, without margins of its own."""
    size = QPageSize(QPageSize.PageSizeId.A4)
    if paper is Paper.LABEL:
        exactly = QPageSize.SizeMatchPolicy.ExactMatch
        size = QPageSize(QSizeF(*LABEL_MM), QPageSize.Unit.Millimeter, "Label", exactly)
    return QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF())


class Printers(Protocol):
    """The printers of this computer, and how one of them is chosen."""

    def names(self) -> Sequence[str]:
        """Return the names of those that are set up."""

    def choose(
        self,
        parent: QWidget,
        layout: QPageLayout,
        name: str,
        chosen: Callable[["QPrinter"], None],
    ) -> None:
        """Let a person choose one, beginning at ``name``; nothing follows where they leave it."""


class SystemPrinters:
    """Those of the system, chosen by its own dialog, which holds nothing up while it is open."""

    def names(self) -> Sequence[str]:
        """Return the names of those that are set up."""
        from PySide6.QtPrintSupport import QPrinterInfo

        return list(QPrinterInfo.availablePrinterNames())

    def choose(
        self,
        parent: QWidget,
        layout: QPageLayout,
        name: str,
        chosen: Callable[["QPrinter"], None],
    ) -> None:
        """Open the system's dialog at a printer, or at the default one."""
        from PySide6.QtCore import Qt
        from PySide6.QtPrintSupport import QPrintDialog, QPrinter, QPrinterInfo

        info = QPrinterInfo.printerInfo(name) if name else QPrinterInfo.defaultPrinter()
        printer = QPrinter(info, QPrinter.PrinterMode.HighResolution)
        printer.setFullPage(True)
        printer.setPageLayout(layout)
        dialog = QPrintDialog(printer, parent)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.accepted.connect(lambda: chosen(printer))
        # Its own overload wants a receiver; the plain one returns at once.
        QDialog.open(dialog)


class Printing(QObject):
    """Prints and opens papers, one at a time, and tells what came of it."""

    def __init__(self, bridge: Bridge, told: Callable[[Message], None], parent: QWidget) -> None:
        super().__init__(parent)
        self._bridge, self._told, self._parent = bridge, told, parent
        self.printers: Printers = SystemPrinters()
        self.open_file: Callable[[Path], bool] = _open_file
        self._last: dict[Paper, str] = {}
        """The printer that each paper went to last."""
        self._busy = False

    def do(self, paper: Paper, unit: str, folder: Path | None = None) -> None:
        """Print or open a unit's paper; its file goes into a folder, or where documents are."""
        port = self._bridge.port
        write = port.write_label if paper is Paper.LABEL else port.write_certificate
        self.put(paper, partial(write, unit, folder or documents()))

    def put(self, paper: Paper, write: Write) -> None:
        """Print or open what is written so."""
        if self._busy:
            self._told(Message("One paper is being made already.", Tone.CAUTION))
            return
        if paper is Paper.OPENED:
            self._write(paper, write, self._open)
            return
        names = self.printers.names()
        if not names:
            self._write(paper, write, self._offer)
            return
        last = self._last.get(paper, "")
        self.printers.choose(
            self._parent,
            layout_of(paper),
            last if last in names else "",
            partial(self._chosen, paper, write),
        )

    def _chosen(self, paper: Paper, write: Write, printer: "QPrinter") -> None:
        self._last[paper] = printer.printerName()
        self._write(paper, write, partial(self._print, printer))

    def _write(self, paper: Paper, write: Write, then: Callable[[Sequence[Path]], None]) -> None:
        """Write the paper and put it on record, then go on with its file."""
        self._busy = True
        self._told(Message(f"Writing the {NAMES[paper]}…", Tone.QUIET))
        self._bridge.follow(write, then, self._failed)

    def _print(self, printer: "QPrinter", paths: Sequence[Path]) -> None:
        self._told(Message(f"Printing {paths[0].name}…", Tone.QUIET))
        self._bridge.follow(
            partial(_in_background, paths[0], printer),
            partial(self._printed, paths[0], printer.printerName()),
            self._failed,
        )

    def _printed(self, path: Path, printer: str, pages: int) -> None:
        count = "1 page" if pages == 1 else f"{pages} pages"
        where = f" on {printer}" if printer else ""
        self._end(Message(f"Printed{where}: {path.name}, {count}.", Tone.GOOD))

    def _offer(self, paths: Sequence[Path]) -> None:
        said = f"{NO_PRINTER} The file is written instead: {paths[0]}"
        self._end(Message(said, Tone.CAUTION))

    def _open(self, paths: Sequence[Path]) -> None:
        if self.open_file(paths[0]):
            self._end(Message(f"Opened: {paths[0]}", Tone.GOOD))
        else:
            self._end(Message(f"{NO_VIEWER} The file is written: {paths[0]}", Tone.CAUTION))

    def _failed(self, message: Message) -> None:
        self._end(message)

    def _end(self, message: Message) -> None:
        self._busy = False
        self._told(message)


def documents() -> Path:
    """Return the folder where this person's documents are."""
    place = QStandardPaths.StandardLocation.DocumentsLocation
    return Path(QStandardPaths.writableLocation(place))


def _open_file(path: Path) -> bool:
    return QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))


def _in_background(path: Path, printer: "QPrinter") -> "Future[int]":
    """Print a file in a thread that ends with it, so that the window goes on."""
    from benchstation.ui.shell.pdf_drawing import draw_file

    pool = ThreadPoolExecutor(1, thread_name_prefix="printing")
    future = pool.submit(draw_file, path, printer)
    pool.shutdown(wait=False)
    return future
