"""The page To settle: by its key, both versions, and what is sent when somebody decides."""

from tests.ui.fake_moments import pour


def opened(open_bench, qtbot):
    bench = open_bench(pour())
    bench.key("Shift+F4")
    page = bench.window.made["settling"]
    qtbot.waitUntil(lambda: page.title.text() == "Oil lot L-0417")
    return bench, page


def texts(page):
    return [
        text
        for group in page.opened.groups
        for term in group.terms
        for text in (term.label, term.value)
    ]


def test_both_versions_stand_under_each_other_and_what_is_in_force(open_bench, qtbot):
    _, page = opened(open_bench, qtbot)
    titles = [group.title for group in page.opened.groups]
    assert titles == ["The shop has", "bench-3 has", "In force now"]
    assert {"0.8513 g/mL", "0.8661 g/mL"} <= set(texts(page))
    assert "the shop's version" in texts(page)


def test_keeping_both_asks_for_the_number_a_reason_and_the_pin(open_bench, qtbot):
    bench, page = opened(open_bench, qtbot)
    bench.key("Ctrl+O")
    assert [field.id for field in page.form_open.fields] == ["other", "reason", "signature"]
    page.press_key("Return")
    (acted,) = bench.station.acted
    assert acted[0] == "settle_both"
    assert acted[1]["conflict"] == page.list.current.key


def test_what_takes_away_is_shown_as_in_force(open_bench, qtbot):
    _, page = opened(open_bench, qtbot)
    page.list.choose(lambda row: row.title == "Robin Sample")
    qtbot.waitUntil(lambda: page.title.text() == "Robin Sample")
    assert page.list.current.note == "in force until then"
    assert "bench-3's version" in texts(page)
