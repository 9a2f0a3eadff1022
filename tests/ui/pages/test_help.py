"""Help: our own text about the page that is open, by F1 and back."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchstation.ui.pages.help import KEYS, TOPICS, WIDEST_PX, HelpPage, help_text
from benchstation.ui.shell import text_scale
from tests.ui.fake_moments import pour, sign_in
from tests.ui.waiting import settled


def test_every_topic_is_there_and_an_unknown_one_falls_back():
    for topic in TOPICS:
        assert help_text(topic).startswith("# ")
    assert help_text("nonsense") == help_text("computation")


def test_topics_are_on_keys(shown):
    page = shown(HelpPage(), size=(1200, 600))
    page.show_topic("bench")
    assert "The way through" in page.text.toPlainText()
    assert page.press_key("4")
    assert page.topic == "records"
    assert "Verify the journal" in page.text.toPlainText()
    assert page.text.accessibleName() == "help: records"
    for key, topic in zip(KEYS, TOPICS, strict=True):
        assert page.press_key(key)
        assert page.topic == topic
        QApplication.processEvents()
        (chosen,) = (b for b in page.topics.buttons if b.action.id == topic)
        assert chosen.visibleRegion().boundingRect() == chosen.rect(), "it is seen whole"


@pytest.mark.parametrize("page", ["bench", "queue", "records", "specifications", "instruments"])
def test_f1_opens_the_help_about_the_page_and_goes_back(open_bench, qtbot, page):
    bench = open_bench(pour())
    bench.window.switch(page)
    bench.window.setFocus()
    qtbot.keyClick(bench.window, Qt.Key.Key_F1)
    assert bench.window.page == "help"
    assert bench.window.made["help"].topic == page
    qtbot.keyClick(bench.window, Qt.Key.Key_F1)
    assert bench.window.page == page


@pytest.mark.parametrize("page", ["bench", "records", "specifications", "instruments"])
@pytest.mark.parametrize(("percent", "dark"), [(100, True), (150, False)])
def test_the_help_shows_the_page_as_it_is_with_a_number_for_every_part(
    open_bench, page, percent, dark
):
    bench = open_bench(pour(), text_percent=percent, dark=dark)
    bench.window.switch(page)
    settled()
    bench.window.show_help()
    shown = bench.window.made["help"].text
    assert shown.picture is not None
    assert len(shown.picture.words) >= 4
    for words in shown.picture.words:
        assert words in shown.toPlainText()
    image = shown.picture.pixmap.toImage()
    assert image.width() < shown.width()
    across = [image.pixelColor(x, image.height() // 3).lightness() for x in range(image.width())]
    assert (sorted(across)[len(across) // 2] < 128) is dark


def test_the_picture_is_drawn_anew_in_another_light_and_size(open_bench):
    bench = open_bench(pour())
    bench.window.show_help()
    shown = bench.window.made["help"].text
    before = shown.picture
    bench.window.switch("theme")
    after = shown.picture
    assert after is not before
    bench.key("Ctrl++")
    assert shown.picture is not after
    assert text_scale.percent() == 115


def test_of_a_page_that_was_never_seen_there_is_text_alone(open_bench):
    bench = open_bench(sign_in())
    bench.window.show_help()
    page = bench.window.made["help"]
    page.show_topic("records")
    assert page.text.picture is None
    assert "Verify the journal" in page.text.toPlainText()


def test_lines_break_before_they_are_too_long_to_read(shown):
    page = shown(HelpPage(), size=(3800, 1200))
    page.show_topic("materials")
    widest = page.text.document().size().width()
    assert widest <= WIDEST_PX + 1
    page.text.resize(600, 600)
    assert page.text.document().textWidth() <= page.text.viewport().width()
