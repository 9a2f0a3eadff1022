"""Draws the README's pictures with the program itself: a pour, a charge, a certificate.

Run: python -m tests.ui.pictures [FOLDER]; without a folder they are put into resources/pictures.
A whole unit is worked on the virtual bench, and each picture is of its moment there.
"""

import io
import os
import shutil
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pypdfium2
from PIL import Image
from PySide6.QtCore import QBuffer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports.certificate import certificate
from benchstation.reports.export import filed_record
from benchstation.screens.bench.page import bench_view
from benchstation.screens.model.bench import BenchView
from benchstation.ui.shell import sound
from benchstation.ui.shell.window import Window
from tests.import_reader import ROOT
from tests.stepped_bench import SteppedBench, make_bench
from tests.ui.fake_station import FakeStation

PLACE = ROOT / "resources" / "pictures"
SIZE = (1280, 800)
COLOURS, PAPER_SCALE = 128, 1.3
NEAR = 0.8
"""How near its target a picture is taken: what is still missing is seen too."""
METRIC = QuantityFormatter(UnitSystem.METRIC)


def moments(bench: SteppedBench) -> dict[str, BenchView]:
    """Work a unit until it is filed; return the view of its pour and of its charge."""
    found: dict[str, BenchView] = {}
    technician = bench.technician(serial="MR-2231", order="A-1204", position="front left")
    technician.sign_in(technician.plan.technician)
    # Who works a unit for the first time is told more, at the place of the reasons.
    bench.session.act("hide_guide", {})
    for _ in technician.work():
        bench.run(0.1)
        rebuild, model = bench.session.rebuild, bench.world.model
        kind = rebuild.current.kind if rebuild is not None and rebuild.current else None
        if kind is StepKind.WEIGH and model.pour_opening > 0:
            view = bench_view(bench.session, METRIC)
            if view.task.urge >= NEAR:
                found.setdefault("pour", view)
        charging = bench.session.work.charging
        if kind is StepKind.CHARGE and charging is not None and "charge" not in found:
            fit = charging.settling(technician.now())
            if fit is not None and fit.certain and model.valve_opening == 0:
                found["charge"] = bench_view(bench.session, METRIC)
    return found


def drawn(view: BenchView) -> Image.Image:
    """Return the window as it shows this moment."""
    window = Window(FakeStation(view), dark=True)
    window.resize(*SIZE)
    window.show()
    window.start()
    QTest.qWait(300)
    held = QBuffer()
    held.open(QBuffer.OpenModeFlag.WriteOnly)
    window.grab().save(held, "PNG")
    window.close()
    window.close()
    window.deleteLater()
    return Image.open(io.BytesIO(held.data().data()))


def first_page(paper: bytes) -> Image.Image:
    """Return the first page of a PDF."""
    document = pypdfium2.PdfDocument(paper)
    try:
        return document[0].render(scale=PAPER_SCALE).to_pil()
    finally:
        document.close()


def keep(picture: Image.Image, file: Path) -> None:
    """Write a picture in few colours, so that it stays small."""
    few = picture.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    few.save(file, optimize=True)
    print(f"{file.name}: {picture.width}x{picture.height}, {file.stat().st_size / 1000:.0f} kB")


def draw(folder: Path) -> None:
    """Draw all three into a folder."""
    app = QApplication.instance() or QApplication([])
    app.setStyle("Fusion")
    # A picture does not say what this machine can play, and makes no noise.
    sound.find_player = lambda: shutil.which("true")
    with TemporaryDirectory() as scratch:
        bench = make_bench(Path(scratch))
        views = moments(bench)
        paper = certificate(filed_record(bench.store, bench.session.rebuild.unit_id))
        bench.store.close()
    folder.mkdir(exist_ok=True)
    for name, view in views.items():
        keep(drawn(view), folder / f"{name}.png")
    keep(first_page(paper), folder / "certificate.png")


if __name__ == "__main__":
    draw(Path(sys.argv[1]) if len(sys.argv) > 1 else PLACE)
