"""Opens the window and runs it: what to say when there is no display, fonts, memory, the end."""

import ctypes
import gc
import importlib.util
import os
import sys
from collections.abc import Callable
from functools import partial
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from benchstation.driver_api.errors import StationError
from benchstation.screens.model.onboarding import OnboardingService
from benchstation.screens.model.service import DemoHand, StationService

if TYPE_CHECKING:
    from PySide6.QtGui import QIcon
    from PySide6.QtWidgets import QApplication, QWidget

NEED_NO_SCREEN = ("offscreen", "minimal", "vnc", "linuxfb", "eglfs", "directfb", "vkkhrdisplay")
COLLECT_MS, AFTER_FRAME_MS = 10_000, 50
LONGEST_WITHOUT_COLLECTING = 12
ICON_SIDES = (16, 32, 48, 128)


def binding_problem(qt: tuple[int, ...], python: tuple[int, ...]) -> str | None:
    """Return in one line why this pair of Qt binding and Python cannot be used, if so.

    The binding from 6.12 on loses references that only Python 3.12 and later can spare.
    """
    if qt[:2] >= (6, 12) and python[:2] < (3, 12):
        shown = ".".join(str(part) for part in qt[:2])
        return (
            f"PySide6 {shown} ends Python below 3.12 without warning: "
            "install 'PySide6-Essentials<6.12', or use Python 3.12."
        )
    return None


def display_problem() -> str | None:
    """Return in one line what to do where no window can be opened; ``None`` where one can."""
    platform = os.environ.get("QT_QPA_PLATFORM", "").partition(":")[0].partition(";")[0]
    x11, wayland = (bool(os.environ.get(name)) for name in ("DISPLAY", "WAYLAND_DISPLAY"))
    if sys.platform.startswith("linux") and platform not in NEED_NO_SCREEN:
        if not (x11 or wayland):
            return (
                "There is no display here (DISPLAY and WAYLAND_DISPLAY are not set): start it from "
                "a desktop session, or set QT_QPA_PLATFORM=offscreen to run it unseen."
            )
        if x11 and not wayland and not _loads("libxcb-cursor.so.0"):
            return "Qt needs the library libxcb-cursor.so.0: install the package libxcb-cursor0."
    try:
        import PySide6
        import PySide6.QtWidgets
    except ImportError as error:
        return (
            f"Qt cannot be loaded ({error}): install PySide6-Essentials, and on Linux libegl1, "
            "libgl1, libxkbcommon0, libdbus-1-3 and libfontconfig1."
        )
    return binding_problem(PySide6.__version_info__[:3], sys.version_info[:3])


def _loads(library: str) -> bool:
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def fallback_font() -> Path | None:
    """Return a font file to draw with where the system has none."""
    spec = importlib.util.find_spec("reportlab")
    places = spec.submodule_search_locations if spec is not None else None
    for place in places or ():
        font = Path(place) / "fonts" / "Vera.ttf"
        if font.exists():
            return font
    return None


def ensure_fonts() -> bool:
    """Load the fallback font when Qt finds no fonts at all; says whether there is one now."""
    from PySide6.QtGui import QFontDatabase

    if QFontDatabase.families():
        return True
    font = fallback_font()
    if font is None:
        return False
    bold = font.with_name("VeraBd.ttf")
    return all(
        QFontDatabase.addApplicationFont(str(path)) >= 0 for path in (font, bold) if path.exists()
    )


def run_window(
    port: StationService,
    *,
    demo_hand: DemoHand | None = None,
    adding: OnboardingService | None = None,
    dark: bool = True,
    text_percent: int = 100,
    pedal_key: str = "",
    whole_shop: bool = False,
    on_close: Callable[[], None] | None = None,
    on_shown: Callable[[], None] | None = None,
) -> int:
    """Open the window and run until it is closed; gives Qt's exit code.

    ``on_close`` is called once, when the window no longer asks the station for anything, and
    ``on_shown`` after its first frame. Raises :class:`StationError` when there is nothing to open a
    window on.
    """
    app = _application()
    from PySide6.QtCore import QTimer

    from benchstation.ui.shell.page_names import PAGES, WHOLE_SHOP
    from benchstation.ui.shell.window import Window

    window = Window(
        port,
        demo_hand=demo_hand,
        adding=adding,
        dark=dark,
        text_percent=text_percent,
        pedal_key=pedal_key,
        pages=WHOLE_SHOP if whole_shop else PAGES,
        on_close=on_close,
    )
    window.closed.connect(app.quit)
    app.commitDataRequest.connect(window.end_session)
    _show(window)
    window.start()
    QTimer.singleShot(0, window, window.get_ready)
    if on_shown is not None:
        QTimer.singleShot(AFTER_FRAME_MS, window, on_shown)
    return _run(app, window.is_quiet)


def run_first_start(port: OnboardingService, *, dark: bool = True) -> None:
    """Ask what ``port`` asks until it asks no more, or its window is closed."""
    app = _application()
    from benchstation.ui.shell.first_start import FirstStartWindow

    window = FirstStartWindow(port, dark=dark)
    window.closed.connect(app.quit)
    _show(window)
    _run(app, lambda: True)


def _run(app: "QApplication", is_quiet: Callable[[], bool]) -> int:
    """Run until the end, and collect garbage in this thread only."""
    from PySide6.QtCore import QTimer

    keeper = MemoryKeeper(is_quiet)
    timer = QTimer()
    timer.setInterval(COLLECT_MS)
    timer.timeout.connect(keeper.collect)
    timer.start()
    try:
        return app.exec()
    finally:
        timer.stop()
        keeper.close()


def _application() -> "QApplication":
    problem = display_problem()
    if problem is not None:
        raise StationError(problem, where="window")
    from PySide6.QtWidgets import QApplication

    found = QApplication.instance()
    app = found if isinstance(found, QApplication) else QApplication(sys.argv[:1])
    app.setApplicationName("benchstation")
    app.setApplicationDisplayName("Bench station")
    app.setDesktopFileName("benchstation")
    app.setWindowIcon(icon())
    app.setStyle("Fusion")
    ensure_fonts()
    return app


def icon() -> "QIcon":
    """Return the program's own sign, drawn at each size; empty where Qt cannot read its drawing."""
    from PySide6.QtCore import QBuffer, QSize
    from PySide6.QtGui import QIcon, QImageReader, QPixmap

    drawing = (files("resources") / "icon.svg").read_bytes()
    found = QIcon()
    for side in ICON_SIDES:
        buffer = QBuffer()
        buffer.setData(drawing)
        reader = QImageReader(buffer, b"svg")
        reader.setScaledSize(QSize(side, side))
        found.addPixmap(QPixmap.fromImage(reader.read()))
    return found


def _show(window: "QWidget") -> None:
    screen = window.screen().availableSize()
    window.resize(min(1600, screen.width()), min(900, screen.height()))
    if screen.width() <= 1920:
        window.showMaximized()
    else:
        window.show()


def heap_trimmer() -> Callable[[], object]:
    """Return what gives free memory back to the system; nothing where the C library cannot.

    Between what is in use the holes grow unit after unit: memory rose by 1.5 % in eighteen units
    without this, by nothing with it (malloc_trim(3)).
    """
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None) if sys.platform == "linux" else None
    return partial(trim, 0) if trim is not None else lambda: None


class MemoryKeeper:
    """Collects garbage in the window's thread only, and not in the middle of a fill.

    Python collects in whichever thread happens to allocate; a widget that is destroyed in a
    reader's thread ends the process.
    """

    def __init__(self, is_quiet: Callable[[], bool]) -> None:
        self._is_quiet = is_quiet
        self._skipped = 0
        self._trim = heap_trimmer()
        gc.collect()
        gc.freeze()
        gc.disable()

    def collect(self) -> None:
        """Collect now, unless something is going on; but not never."""
        if not self._is_quiet() and self._skipped < LONGEST_WITHOUT_COLLECTING:
            self._skipped += 1
            return
        self._skipped = 0
        gc.collect()
        self._trim()

    def close(self) -> None:
        """Leave Python as it was."""
        gc.enable()
        gc.unfreeze()
