"""A window on a fake station, without sound and without a screen."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from benchstation.ui.shell import sound, text_scale
from benchstation.ui.shell.theme import DARK, style_sheet
from benchstation.ui.shell.window import Window
from tests.ui.fake_moments import sign_in
from tests.ui.fake_station import FakeStation

HOLD_MS = 60


@pytest.fixture(scope="session")
def qapp(qapp):
    qapp.setStyle("Fusion")
    return qapp


@pytest.fixture(autouse=True)
def silence(monkeypatch):
    """No test makes a noise, whatever player the machine has."""
    monkeypatch.setattr(sound, "find_player", lambda: None)


@pytest.fixture(autouse=True)
def usual_text_size():
    """Every test begins and ends at 100 %."""
    text_scale.choose(100)
    yield
    text_scale.choose(100)


class Bench:
    """A window, the station behind it, and a person's fingers."""

    def __init__(self, window: Window, station: FakeStation) -> None:
        self.window, self.station = window, station

    @property
    def task(self):
        return self.window.bench.task

    def show(self, view) -> None:
        self.station.current = view
        self.window.bridge.refresh()
        QApplication.processEvents()

    def _target(self):
        return self.window.focusWidget() or self.window

    def key(self, name: str) -> None:
        """Press and let go of a key, where the keyboard is."""
        stroke = QKeySequence(name)[0]
        QTest.keyClick(self._target(), stroke.key(), stroke.keyboardModifiers())
        QApplication.processEvents()

    def down(self, name: str) -> None:
        stroke = QKeySequence(name)[0]
        QTest.keyPress(self._target(), stroke.key(), stroke.keyboardModifiers())

    def up(self, name: str) -> None:
        stroke = QKeySequence(name)[0]
        QTest.keyRelease(self._target(), stroke.key(), stroke.keyboardModifiers())

    def type(self, text: str) -> None:
        QTest.keyClicks(self._target(), text)

    def click(self, widget) -> None:
        QTest.mouseClick(widget, Qt.MouseButton.LeftButton)
        QApplication.processEvents()

    def editor(self, field: str):
        return next(row.editor for row in self.task.form.rows if row.field.id == field)

    def button(self, action: str):
        bars = (self.task.action_bar, self.window.bench.side)
        return next(b for bar in bars for b in bar.buttons if b.action.id == action)

    @property
    def refused(self) -> str:
        """What stands above the actions: why not, or what was refused."""
        errors = [row.error.text() for row in self.task.form.rows]
        return " ".join(part for part in (self.task.reason.text, *errors) if part)

    @property
    def foot(self) -> str:
        """What stands in the status bar."""
        message = self.window.status_bar.line.message
        return message.text if message is not None else ""

    @property
    def said(self) -> str:
        """What was refused on the page that is seen, else what stands in the status bar."""
        return self.window.made[self.window.page].refusal or self.foot


@pytest.fixture
def open_bench(qapp, qtbot):
    """Open a window on a moment; closed at the end of the test."""
    opened = []

    def open_it(
        view=None,
        *,
        size=(1280, 800),
        hand=None,
        dark=True,
        text_percent=100,
        pedal_key="F13",
        station=FakeStation,
        **more,
    ) -> Bench:
        fake = station(view if view is not None else sign_in(), **more)
        window = Window(
            fake,
            demo_hand=hand,
            dark=dark,
            text_percent=text_percent,
            pedal_key=pedal_key,
            hold_ms=HOLD_MS,
        )
        opened.append(window)
        window.resize(*size)
        window.show()
        window.activateWindow()
        qtbot.waitExposed(window)
        window.start()
        QApplication.processEvents()
        return Bench(window, fake)

    yield open_it
    for window in opened:
        # Twice: a text that is not kept holds it once.
        window.close()
        window.close()
        window.deleteLater()


@pytest.fixture
def shown(qapp, qtbot):
    """Show a single widget; closed at the end of the test."""

    hosts = []

    def show_it(widget, size=(600, 300), theme=DARK):
        host = QWidget()
        host.theme = theme
        host.setStyleSheet(style_sheet(theme))
        hosts.append(host)
        widget.setParent(host)
        host.resize(*size)
        widget.resize(*size)
        widget.show()
        host.show()
        host.activateWindow()
        qtbot.waitExposed(host)
        QApplication.processEvents()
        return widget

    yield show_it
    for host in hosts:
        host.close()
        host.deleteLater()
