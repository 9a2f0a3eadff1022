"""The alarm panel takes room and covers nothing: the reading and the primary button stay seen."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, QRect
from PySide6.QtWidgets import QApplication

from benchstation.ui.shell import text_scale
from benchstation.ui.shell.window import LEAST_SIZE, Window
from tests.ui.fake_moments import ALARM, WARNING, pour
from tests.ui.fake_station import FakeStation

LOST = replace(
    ALARM,
    id="lost",
    headline="SIGNAL LOST   (no reading for more than 1 s)",
    instruction="The pressure is not known: close the bottle valve, check the cable.",
    needs_reason=False,
)
SETS = {
    "limit": (ALARM,),
    "limit and lost": (ALARM, LOST),
    "limit and one gone back": (ALARM, replace(WARNING, active=False)),
    "all": (ALARM, LOST, replace(WARNING, active=False)),
}


@pytest.fixture(params=[100, 150])
def window(request, qtbot):
    made = Window(FakeStation(pour()), text_percent=request.param)
    qtbot.addWidget(made)
    yield made
    text_scale.choose(100)


def place(widget, window) -> QRect:
    return QRect(widget.mapTo(window, QPoint(0, 0)), widget.size())


@pytest.mark.parametrize("size", [LEAST_SIZE, (1600, 900)], ids=["least", "usual"])
@pytest.mark.parametrize("alarms", SETS.values(), ids=SETS)
def test_the_panel_covers_neither_the_reading_nor_the_primary_button(window, qtbot, alarms, size):
    window.resize(*size)
    window.show()
    window.start()
    window.bridge.port.current = replace(pour(), alarms=alarms)
    window.bridge.refresh()
    for _ in range(5):
        QApplication.processEvents()
        qtbot.wait(20)
    panel = place(window.banners, window)
    assert panel.height() > 0
    whole = QRect(0, 0, window.width(), window.height())
    primary = [b for b in window.bench.task.action_bar.buttons if b.action and b.action.primary]
    seen = [*window.strip.readings, *(b for b in primary if not b.isHidden())]
    assert any(b in seen for b in primary)
    for widget in seen:
        assert widget.isVisible()
        where = place(widget, window)
        assert whole.contains(where), f"{widget} is not whole in the window"
        assert not panel.intersects(where), f"the panel covers {widget}"
        assert where.height() >= 30
