"""Opening: what is said when there is nothing to open on, fonts, memory, and a clean end."""

import ctypes
import gc
import json
import os
import subprocess
import sys

import pytest

from benchstation.driver_api.errors import StationError
from benchstation.ui.shell import run
from benchstation.ui.shell.run import MemoryKeeper, binding_problem, display_problem, fallback_font
from tests.long_life.counting import resident_kb

PROGRAM = """
import json, threading
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from benchstation.ui.shell.run import run_window
from tests.ui.fake_moments import (pour)
from tests.ui.fake_station import (FakeStation)

app = QApplication([])
closed = []
QTimer.singleShot(400, app.closeAllWindows)
code = run_window(FakeStation(pour()), on_close=lambda: closed.append(1))
print(json.dumps({"code": code, "closed": closed, "threads": threading.active_count()}))
"""


@pytest.fixture
def linux(monkeypatch):
    monkeypatch.setattr(sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    return monkeypatch


def test_without_a_display_one_line_says_what_to_do(linux):
    said = display_problem()
    assert said is not None
    assert "\n" not in said
    assert "QT_QPA_PLATFORM=offscreen" in said


@pytest.mark.parametrize("platform", ["offscreen", "minimal", "vnc:size=800x600", "eglfs"])
def test_a_platform_that_needs_no_display_is_no_problem(linux, platform):
    linux.setenv("QT_QPA_PLATFORM", platform)
    assert display_problem() is None


def test_a_platform_that_needs_one_is(linux):
    linux.setenv("QT_QPA_PLATFORM", "xcb")
    assert "no display" in display_problem()


def test_the_library_that_x11_needs_is_named(linux):
    linux.setenv("DISPLAY", ":0")
    linux.setattr(run, "_loads", lambda library: False)
    assert "libxcb-cursor0" in display_problem()


@pytest.mark.parametrize("display", [("DISPLAY", ":0"), ("WAYLAND_DISPLAY", "wayland-0")])
def test_a_display_is_no_problem(linux, display):
    linux.setenv(*display)
    linux.setattr(run, "_loads", lambda library: True)
    assert display_problem() is None


def test_a_window_without_a_display_is_refused(linux):
    with pytest.raises(StationError, match="no display"):
        run.run_window(object())


@pytest.mark.parametrize(
    ("qt", "python", "refused"),
    [
        ((6, 12, 0), (3, 11, 7), True),
        ((6, 13, 1), (3, 10, 0), True),
        ((6, 12, 0), (3, 12, 1), False),
        ((6, 11, 3), (3, 11, 7), False),
        ((7, 0, 0), (3, 11, 7), True),
    ],
)
def test_the_pair_that_loses_references_is_refused_in_one_line(qt, python, refused):
    said = binding_problem(qt, python)
    assert (said is not None) is refused
    if said is not None:
        assert "\n" not in said
        assert "PySide6-Essentials<6.12" in said


def test_there_is_a_font_to_fall_back_on():
    font = fallback_font()
    assert font is not None
    assert font.read_bytes()[:4] == b"\x00\x01\x00\x00"


def test_without_fonts_the_fallback_is_loaded(qapp, monkeypatch):
    from PySide6.QtGui import QFontDatabase

    monkeypatch.setattr(QFontDatabase, "families", lambda: [])
    assert run.ensure_fonts()
    monkeypatch.setattr(run, "fallback_font", lambda: None)
    assert not run.ensure_fonts()


def test_the_icon_is_drawn_at_each_size(qapp):
    icon = run.icon()
    assert [size.width() for size in icon.availableSizes()] == list(run.ICON_SIDES)
    for side in run.ICON_SIDES:
        image = icon.pixmap(side, side).toImage()
        seen = {image.pixelColor(x, 3 * side // 16).name() for x in range(side)}
        assert {"#58aef0", "#ffffff", "#17324d"} <= seen


def test_memory_is_collected_only_when_quiet_but_not_never(monkeypatch):
    quiet, trims = [False], []
    monkeypatch.setattr(run, "heap_trimmer", lambda: lambda: trims.append("trim"))
    keeper = MemoryKeeper(lambda: quiet[0])
    try:
        assert not gc.isenabled()
        runs = []
        gc.callbacks.append(lambda phase, info: runs.append(phase) if phase == "stop" else None)
        for _ in range(run.LONGEST_WITHOUT_COLLECTING):
            keeper.collect()
        assert runs == trims == []
        keeper.collect()
        assert len(runs) == len(trims) == 1
        quiet[0] = True
        keeper.collect()
        assert len(runs) == len(trims) == 2
    finally:
        gc.callbacks.pop()
        keeper.close()
    assert gc.isenabled()
    assert gc.get_freeze_count() == 0


@pytest.mark.skipif(
    sys.platform != "linux" or not hasattr(ctypes.CDLL(None), "malloc_trim"),
    reason="the C library gives nothing back on request",
)
def test_free_memory_between_what_is_in_use_is_given_back():
    libc = ctypes.CDLL(None)
    libc.malloc.restype, libc.malloc.argtypes = ctypes.c_void_p, [ctypes.c_size_t]
    libc.free.argtypes = [ctypes.c_void_p]
    size, count = 65_536, 1_024
    blocks = [libc.malloc(size) for _ in range(count)]
    for block in blocks:
        ctypes.memset(block, 1, size)
    # Every sixteenth stays, so the heap's end cannot simply be drawn in.
    for at, block in enumerate(blocks):
        if at % 16 != 15:
            libc.free(block)
    before = resident_kb()
    run.heap_trimmer()()
    after = resident_kb()
    for block in blocks[15::16]:
        libc.free(block)
    assert after < before - size * count // 1024 // 2


def test_where_memory_cannot_be_given_back_nothing_happens(monkeypatch):
    monkeypatch.setattr(sys, "platform", "win32")
    assert run.heap_trimmer()() is None


def test_the_window_opens_runs_and_ends_clean():
    done = subprocess.run(
        [sys.executable, "-X", "faulthandler", "-W", "error", "-c", PROGRAM],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert json.loads(done.stdout) == {"code": 0, "closed": [1], "threads": 1}


FIRST = """
import json, threading
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from benchstation import app as composition
from benchstation.config.settings import Settings

app = QApplication([])
seen = []
def look():
    seen.extend(type(w).__name__ for w in app.topLevelWidgets() if w.isVisible())
    app.closeAllWindows()
QTimer.singleShot(400, look)
code = composition.run_bench(Settings())
print(json.dumps({"code": code, "seen": seen, "threads": threading.active_count()}))
"""


def test_a_bench_that_is_not_set_up_opens_on_the_first_start(tmp_path):
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen", "BENCHSTATION_HOME": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", FIRST], capture_output=True, text=True, env=environment, timeout=60
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told == {"code": 0, "seen": ["FirstStartWindow"], "threads": 1}
    assert list(tmp_path.iterdir()) == []
