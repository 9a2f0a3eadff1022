"""Help: our own text about the page that is open, by F1 and back."""

import pytest
from PySide6.QtCore import Qt

from benchstation.ui.pages.help import TOPICS, HelpPage, help_text
from tests.ui.fake_moments import pour


def test_every_topic_is_there_and_an_unknown_one_falls_back():
    for topic in TOPICS:
        assert help_text(topic).startswith("# ")
    assert help_text("nonsense") == help_text("computation")


def test_topics_are_on_keys(shown):
    page = shown(HelpPage(), size=(1200, 600))
    page.show_topic("bench")
    assert "The way through" in page.text.toPlainText()
    assert page.press_key("3")
    assert page.topic == "records"
    assert "Verify the journal" in page.text.toPlainText()
    assert page.text.accessibleName() == "help: records"


@pytest.mark.parametrize("page", ["bench", "queue", "records", "specifications", "instruments"])
def test_f1_opens_the_help_about_the_page_and_goes_back(open_bench, qtbot, page):
    bench = open_bench(pour())
    bench.window.switch(page)
    bench.window.setFocus()
    qtbot.keyClick(bench.window, Qt.Key.Key_F1)
    assert bench.window.page == "help"
    assert bench.window._made["help"].topic == page
    qtbot.keyClick(bench.window, Qt.Key.Key_F1)
    assert bench.window.page == page
