"""Draws every moment in both themes and some sizes into a folder, to be looked at.

Run: python -m tests.ui.shots FOLDER [name ...]; TEXT=150 in the environment draws at that size,
SIZES=1280x800,3840x2160 in these windows, THEME=dark in one light.
"""

import os
import sys
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.ui.shell.bridge import message_of
from benchstation.ui.shell.window import Window
from tests.ui.every_page import ASIDE
from tests.ui.fake_moments import MOMENTS, SIDE, pour, sign_in
from tests.ui.fake_station import REFUSED, FakeHand, FakeStation

SPECIFICATIONS = (
    "specification",
    "specification-hot-in",
    "specification-in-force",
    "specification-hand",
    "specification-alarm",
    "no-specifications",
    "draft",
    "draft-wrong",
    "draft-waits",
)
QUEUE = ("queue", "queue-set", "queue-four", "queue-place", "queue-list")
OTHERS = (
    "demo",
    "error",
    "asking",
    "holding",
    *(page for page in ASIDE if page not in ("queue", "specifications")),
    "record",
    "no-records",
    "filters",
    "calibrations",
    "certificate",
    *QUEUE,
    *SPECIFICATIONS,
)
"""Pages and prompts; the queue and the specifications are drawn in several states."""
SIZES = tuple(
    tuple(map(int, size.split("x")))
    for size in os.environ.get("SIZES", "1280x800,1600x900").split(",")
)
TEXT = int(os.environ.get("TEXT", "100"))
THEME = os.environ.get("THEME", "dark,light").split(",")


def turn_to_specifications(window: Window, name: str) -> None:
    """Go to the page and into the moment of this name."""
    window.switch("specifications")
    QTest.qWait(120)
    page = window.made["specifications"]
    if name == "specification-in-force":
        page.list.setCurrentIndex(page.list.rows.index(1, 0))
    if name == "specification-hot-in":
        page.figures.travel.setValue(100)
        page.press_key("Ctrl+3")
    if name.startswith("draft"):
        page.press_key("Ctrl+N")
        text = page.editor.text
        for volume in ("263.5", "296") if name == "draft-wrong" else ("263.5",):
            page.editor.begin(text.replace("263", volume))
            page.editor.mark_unkept()
            page._ask()
            QTest.qWait(150)
    if name == "draft-waits":
        page.press_key("Esc")
    QTest.qWait(120)


def turn_to_queue(window: Window, name: str) -> None:
    """Go to the queue and into the moment of this name."""
    window.switch("queue")
    QTest.qWait(60)
    page = window.made["queue"]
    if name in ("queue-set", "queue-four"):
        page.list.setCurrentIndex(page.list.rows.index(2 if name == "queue-set" else 4, 0))
    for key in {"queue-place": ("Ctrl+N", "Ctrl+4"), "queue-list": ("Ctrl+O",)}.get(name, ()):
        page.press_key(key)
    QTest.qWait(60)


def draw(folder: Path, names: list[str]) -> None:
    app = QApplication.instance() or QApplication([])
    app.setStyle("Fusion")
    for dark in (light == "dark" for light in THEME):
        for size in SIZES:
            tag = f"{'dark' if dark else 'light'}-{size[0]}{'' if TEXT == 100 else f'-{TEXT}'}"
            for name in (*MOMENTS, *OTHERS):
                if names and name not in names:
                    continue
                make = {"holding": MOMENTS["high-limit"]}.get(name) or MOMENTS.get(name, pour)
                if name == "specification-alarm":
                    make = MOMENTS["high-limit"]
                station = FakeStation(make() if name != "no-records" else sign_in())
                hand = FakeHand() if name in ("demo", "specification-hand") else None
                if name == "no-specifications":
                    station.specifications = []
                if name == "no-records":
                    station.records = []
                window = Window(station, demo_hand=hand, dark=dark, text_percent=TEXT)
                window.resize(*size)
                window.show()
                window.start()
                QTest.qWait(150)
                if name == "asking":
                    window.bench.side.choose(SIDE[1])
                    QTest.qWait(30)
                if name == "holding":
                    window.banners.to_hold.press()
                    QTest.qWait(700)
                if name == "error":
                    window.tell(message_of(REFUSED))
                if name in ("record", "no-records"):
                    window.switch("records")
                    QTest.qWait(150)
                if name in ("calibrations", "certificate"):
                    window.switch("instruments")
                    QTest.qWait(60)
                    window.made["instruments"].press_key("Ctrl+B")
                    QTest.qWait(900)
                if name == "certificate":
                    window.made["instruments"].press_key("Ctrl+N")
                    QTest.qWait(60)
                if name == "record":
                    page = window.made["records"]
                    page.list.setCurrentIndex(page.list.rows.index(3, 0))
                    QTest.qWait(150)
                if name in ASIDE:
                    window.switch(name)
                    QTest.qWait(150)
                if name == "filters":
                    window.switch("records")
                    QTest.qWait(150)
                    window.made["records"].search_for('qa:"on hold" filed:anna from:2026-11')
                    window.made["records"].press_key("Ctrl+T")
                    QTest.qWait(150)
                if name in QUEUE:
                    turn_to_queue(window, name)
                if name in SPECIFICATIONS:
                    turn_to_specifications(window, name)
                window.grab().save(str(folder / f"{name}-{tag}.png"))
                window.close()
                window.close()
                window.deleteLater()
                QTest.qWait(5)


if __name__ == "__main__":
    draw(Path(sys.argv[1]), sys.argv[2:])
