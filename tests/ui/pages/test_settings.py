"""The page Settings: by its key or from Instruments, a form that is sent with its group."""

from benchstation.ui.pages.instruments import TO_SETTINGS
from tests.ui.fake_moments import pour


def test_its_key_opens_it_anywhere_and_instruments_has_a_button_for_it(open_bench):
    bench = open_bench(pour())
    bench.key("Shift+F6")
    assert bench.window.page == "settings"
    bench.key("F6")
    page = bench.window.made["instruments"]
    page.more.choose(TO_SETTINGS)
    assert bench.window.page == "settings"


def test_a_group_is_changed_by_a_form_that_says_which_it_is(open_bench, qtbot):
    bench = open_bench(pour())
    bench.key("Shift+F6")
    page = bench.window.made["settings"]
    qtbot.waitUntil(lambda: page.title.text() == "Pressure path")
    bench.key("Ctrl+E")
    assert page.form_open is not None
    values = page.form.values()
    assert values["part:0"] == "Füllschlauch, Kupplungsseite"
    assert values["rating:0"] == "35.00 bar"
    page.press_key("Return")
    (acted,) = bench.station.acted
    assert acted[0] == "change_settings"
    assert acted[1]["group"] == "pressure path"
    assert acted[1]["rating:1"] == "40.00 bar"
