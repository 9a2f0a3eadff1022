"""The style sheet goes to what is shown; the others take it when they come."""

import pytest
from PySide6.QtWidgets import QWidget

from benchstation.ui.shell import text_scale
from benchstation.ui.shell.sheets import Sheets
from benchstation.ui.shell.theme import DARK, LIGHT, style_sheet
from benchstation.ui.shell.window import Window
from tests.ui.fake_moments import pour
from tests.ui.fake_station import FakeStation


def test_what_is_not_shown_is_left_until_it_comes(qtbot):
    seen, unseen = QWidget(), QWidget()
    qtbot.addWidget(seen)
    qtbot.addWidget(unseen)
    sheets = Sheets()
    sheets.change(LIGHT, [seen, None])
    assert seen.styleSheet() == style_sheet(LIGHT)
    assert unseen.styleSheet() == ""
    sheets.dress(unseen)
    assert unseen.styleSheet() == style_sheet(LIGHT)


@pytest.fixture
def window(shown):
    return shown(Window(FakeStation(pour())), size=(1280, 800))


def test_a_page_takes_the_theme_of_now_when_it_is_shown_again(window):
    window.switch("records")
    window.switch("bench")
    window.switch("theme")
    light = style_sheet(LIGHT)
    assert window.theme is LIGHT
    assert window.bench.styleSheet() == window.status_bar.styleSheet() == light
    assert window.made["records"].styleSheet() == style_sheet(DARK)
    window.switch("records")
    assert window.made["records"].styleSheet() == light


def test_a_page_takes_the_text_size_of_now_when_it_is_shown_again(window):
    window.switch("records")
    window.switch("bench")
    window.set_text_size(150)
    assert text_scale.percent() == 150
    window.switch("records")
    assert window.made["records"].styleSheet() == style_sheet(DARK)
    window.set_text_size(100)


@pytest.mark.parametrize("theme", [DARK, LIGHT])
def test_the_ground_has_the_colour_of_the_theme(window, theme):
    window.set_theme(theme)
    window.bench.repaint()
    image = window.grab().toImage()
    assert image.pixelColor(3, window.height() // 2).name() == theme.ground
