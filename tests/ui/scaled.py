"""Prints what does not fit where the screen has more dots than the window has pixels.

Run with QT_SCALE_FACTOR in the environment: python -m tests.ui.scaled. Prints nothing when all
fits; the factor is taken when Qt starts, so each one needs a process of its own.
"""

import os
import sys

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.ui.shell.window import Window
from benchstation.ui.widgets.drawings.picture import picture_of
from tests.ui.every_page import ASIDE
from tests.ui.fake_moments import MOMENTS, pour
from tests.ui.fake_station import FakeHand, FakeStation
from tests.ui.fitting import problems

SIZE, PICTURE_PX = (1280, 800), 700


def _pixel(window: Window) -> list[str]:
    """Compare the help's picture with the page it is drawn from: width, and numbers in place."""
    page = window.bench
    picture = picture_of(page, page.callouts(), PICTURE_PX)
    if picture is None:
        return ["no picture"]
    size, dots = picture.pixmap.deviceIndependentSize(), picture.pixmap.width()
    wanted = page.height() * PICTURE_PX / page.width()
    whole = abs(size.width() - PICTURE_PX) <= 1 and abs(size.height() - wanted) <= 1
    sharp = abs(dots - PICTURE_PX * window.devicePixelRatioF()) <= 1
    return [] if whole and sharp else [f"picture of {size} in {dots} dots"]


def check(factor: float) -> list[str]:
    """Return everything that does not fit at this factor."""
    app = QApplication.instance() or QApplication([])
    app.setStyle("Fusion")
    found = []
    for percent in (100, 150):
        station = FakeStation(pour())
        window = Window(station, demo_hand=FakeHand(), text_percent=percent)
        window.resize(*SIZE)
        window.show()
        window.start()
        QTest.qWait(100)
        if window.devicePixelRatioF() != factor:
            found.append(f"the factor is {window.devicePixelRatioF()}")
        for name, moment in MOMENTS.items():
            station.current = moment()
            window.bridge.refresh()
            QTest.qWait(20)
            found += [f"{percent} {name}: {problem}" for problem in problems(window, 500)]
        station.current = pour()
        window.bridge.refresh()
        QTest.qWait(50)
        found += _pixel(window)
        for page in ASIDE:
            window.switch(page)
            QTest.qWait(40)
            found += [f"{percent} {page}: {problem}" for problem in problems(window, 500)]
        window.close()
        window.deleteLater()
    return found


if __name__ == "__main__":
    lines = check(float(os.environ["QT_SCALE_FACTOR"]))
    sys.stdout.write("\n".join(lines))
