"""A serial is looked up from the form, and its earlier rebuilds open by one key."""

from dataclasses import replace

from benchstation.screens.model.elements import ActionView, FieldKind, FieldView, TaskView
from tests.ui.fake_moments import pour

FAMILIES = (("front", "Front"), ("rear", "Rear"))


def form(**values: str):
    fields = (
        FieldView("serial", "Serial", FieldKind.TEXT, looks_up="look_up"),
        FieldView("family", "Family", FieldKind.CHOICE, choices=FAMILIES),
        FieldView("order", "Order", FieldKind.TEXT),
    )
    known = tuple(replace(field, value=values.get(field.id, "")) for field in fields)
    start = ActionView("open", "Start", "Return", primary=True)
    return replace(pour(), task=TaskView("open", "Next", "Scan", fields=known, actions=(start,)))


def test_a_scan_fills_the_form_and_one_more_return_starts(open_bench, qtbot):
    bench = open_bench(form())
    bench.type("S-1")
    bench.station.current = form(serial="S-1", family="rear", order="A-1")
    bench.key("Return")
    qtbot.waitUntil(lambda: bench.task.form.values()["order"] == "A-1", timeout=1000)
    assert [action for action, _ in bench.station.acted] == ["look_up"]
    bench.key("Return")
    action, fields = bench.station.acted[-1]
    assert (action, fields) == ("open", {"serial": "S-1", "family": "rear", "order": "A-1"})


def test_a_serial_that_is_not_known_goes_on_to_what_must_be_chosen(open_bench, qtbot):
    bench = open_bench(form())
    bench.type("X-1")
    bench.key("Return")
    family = bench.editor("family")
    qtbot.waitUntil(lambda: family.isAncestorOf(bench.window.focusWidget()), timeout=1000)


def test_one_key_opens_the_records_of_the_serial(open_bench, qtbot):
    view = pour()
    earlier = ActionView("earlier", "Earlier rebuilds (1)", "Ctrl+G")
    view = replace(view, serial="MR-2228", side_actions=(*view.side_actions, earlier))
    bench = open_bench(view)
    bench.key("Ctrl+G")
    assert bench.window.page == "records"
    qtbot.waitUntil(lambda: ("MR-2228", "") in bench.station.found, timeout=1000)
    page = bench.window.made["records"]
    qtbot.waitUntil(lambda: page.detail.shown is not None, timeout=1000)
    assert page.detail.shown.row.serial == "MR-2228"
    assert bench.station.acted == [], "the window does it by itself"
