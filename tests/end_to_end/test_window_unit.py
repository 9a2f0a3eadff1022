"""A technician drives a whole unit through the real window by keys and clicks, over real lines."""

import json
import time
from datetime import UTC, datetime

import pytest
from PySide6.QtCore import Qt

from benchstation.clock import running_clock
from benchstation.demo import shop as demo
from benchstation.demo.hand import VirtualHand
from benchstation.demo.world import make_world, serve_world
from benchstation.rebuild.specification import StepKind
from benchstation.station.assemble import bench_from
from benchstation.station.records import Records
from benchstation.station.station import Station
from benchstation.store.engine import open_store
from benchstation.ui.window import Window
from tests.end_to_end.hands import (
    Person,
    charge,
    file,
    fill_gas,
    function,
    start_unit,
    to_charge,
)

PACE = 12.0


@pytest.fixture
def person(qtbot, tmp_path):
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        clock = running_clock(PACE)
        world = make_world(8, demo.AIR)
        served = serve_world(world, clock.seconds)
        wake = []
        live = bench_from(
            store,
            demo.demo_shop(store),
            clock,
            lambda: demo.AIR,
            on_change=lambda: [call() for call in wake],
        )
        hand = VirtualHand(world)
        live.followers.append(hand.follow)
        station = Station(live, Records(store), hint="hint", note="note")
        wake.append(station.wake)
        desk = live.desk
        desk.scale.instrument.connect(served.scale.url)
        desk.gauge.instrument.connect(served.gauge.url)
        desk.watch.arm()
        station.start()
        window = Window(station, demo_hand=hand, hold_ms=300)
        qtbot.addWidget(window)
        window.resize(1280, 800)
        window.show()
        window.start()
        qtbot.waitUntil(lambda: window.view is not None)
        yield Person(qtbot, window, station, hand)
        window.close()
        station.close()
        desk.scale.instrument.stop()
        desk.gauge.instrument.stop()
        served.close()


@pytest.mark.timeout(150)
def test_a_whole_unit_by_keys_and_clicks(person, tmp_path):
    start_unit(person)
    to_charge(person)
    charge(person)
    function(person)
    file(person)
    person.key("F4")
    assert person.window.page == "records"
    records = person.window._made["records"]
    person.until(lambda: len(records.list.rows.rows) == 1)
    records.search.setFocus()
    person.qtbot.keyClicks(records.search, "e2e")
    person.key("Return")
    person.until(lambda: records.detail.shown is not None)
    assert [t.title for t in records.detail.shown.traces] == ["Pour", "Charge"]
    records.folder.setText(str(tmp_path / "out"))
    person.window.setFocus()
    person.key("Ctrl+E")
    written = {".pdf", ".json"}
    person.until(lambda: {p.suffix for p in (tmp_path / "out").glob("*")} == written)
    (exported,) = (tmp_path / "out").glob("*.json")
    record = json.loads(exported.read_text("utf-8"))["record"]
    assert record["serial"] == "E2E-1"
    assert record["decision"] == "pass"
    person.key("F2")
    person.key("Ctrl+L")
    person.until_step("sign-in")
    person.fill(person="anders", pin=demo.PIN)
    person.key("Return")
    person.until_step("filed")
    person.key("F4")
    person.window.setFocus()
    person.key("Ctrl+R")
    person.qtbot.keyClicks(records.qa.question.reason, "record complete")
    person.qtbot.keyClick(records.qa.question.reason, Qt.Key.Key_Return)
    person.until(lambda: records.detail.shown.row.state == "released")
    person.key("F2")
    person.key("Return")
    person.until_step("open")


@pytest.mark.timeout(150)
def test_an_exceeded_limit_is_held_to_acknowledge_with_a_reason(person):
    start_unit(person)
    to_charge(person)
    fill_gas(person, 35.3e5)
    window = person.window
    person.until(lambda: bool(window.view.alarms))
    banner = window.banners.banners[0]
    assert banner.isVisible()
    assert "HIGH LIMIT" in window.view.alarms[0].headline
    top = banner.mapTo(window, banner.rect().topLeft()).y()
    assert top > window.strip.geometry().bottom(), "it covers no reading"
    person.key("Space")
    assert not person.station._live.desk.charge_wanted
    episode = window.view.alarms[0].id
    banner.reason.setFocus()
    person.qtbot.keyClicks(banner.reason, "regulator set too high")
    person.qtbot.mousePress(banner.button, Qt.MouseButton.LeftButton)
    person.qtbot.wait(100)
    person.qtbot.mouseRelease(banner.button, Qt.MouseButton.LeftButton)
    person.qtbot.wait(100)
    assert any(a.id == episode and a.hold_label for a in window.view.alarms)
    person.qtbot.mousePress(banner.button, Qt.MouseButton.LeftButton)
    person.qtbot.wait(700)
    person.qtbot.mouseRelease(banner.button, Qt.MouseButton.LeftButton)
    person.until(lambda: not any(a.id == episode and a.hold_label for a in window.view.alarms))
    person.hand.set_vent(0.3)
    person.until(lambda: not any(a.id == episode for a in window.view.alarms))
    desk = person.station._live.desk
    assert desk.rebuild.current.kind is StepKind.CHARGE
    assert desk.rebuild.hold_reasons == ("the high limit was exceeded",)


@pytest.mark.timeout(150)
def test_the_guard_does_not_wait_for_a_frozen_window(person):
    start_unit(person)
    to_charge(person)
    desk = person.station._live.desk
    person.hand.set_regulator(30e5)
    person.hand.set_valve(1.0)
    # The window's thread does nothing at all for two seconds, 24 at the bench.
    time.sleep(2.0)
    person.hand.set_valve(0.0)
    raised = desk.store.entries(kind="alarm.changed")
    assert [e.event.alarm for e in raised] == ["high warning"]
    assert not person.window.view.alarms, "the window has not drawn it yet"
    late_s = (raised[0].utc - desk.clock.utc()).total_seconds()
    assert late_s < -5, "it was on record while the window stood still"
    person.until(lambda: bool(person.window.view.alarms), 2)
    assert person.window.banners.banners[0].isVisible()


@pytest.mark.timeout(150)
def test_a_scanned_serial_from_the_queue_is_started_handed_over_set_aside_and_fetched(person):
    window = person.window

    def scan(text: str) -> None:
        person.qtbot.keyClicks(window.focusWidget(), text)
        person.key("Return")

    def reason(text: str) -> None:
        question = window.bench.task.action_bar.question
        person.until(question.isVisible)
        scan(text)

    person.until_step("sign-in")
    person.fill(person="kofler", pin=demo.PIN)
    person.key("Return")
    person.until_step("open")
    person.key("F3")
    queue = window._made["queue"]
    person.until(lambda: queue.view is not None)
    person.key("Ctrl+N")
    person.key("Ctrl+4")
    fields = {row.field.id: row.editor for row in queue.form.rows}
    person.qtbot.keyClicks(fields["order"], "A-77")
    fields["family"].setFocus()
    person.qtbot.keyClick(fields["family"], Qt.Key.Key_Home)
    while fields["family"].currentData() != "mr-46-front":
        person.qtbot.keyClick(fields["family"], Qt.Key.Key_Down)
    for n in range(1, 5):
        person.qtbot.keyClicks(fields[f"serial{n}"], f"S-{n}")
    person.key("Ctrl+S")
    person.until(lambda: len(queue.list.rows.rows) == 4)
    assert queue.sets[0].shown.positions[3] == "rear right"
    person.key("F2")
    window.bench.task.begin()
    scan("s-2")
    person.until(lambda: window.bench.task.form.values()["order"] == "A-77")
    values = window.bench.task.form.values()
    assert values["position"] == "front right"
    if not values["lot"]:
        person.fill(lot="L-0417")
    person.key("Return")
    person.until_step("intake")
    person.key("Ctrl+T")
    reason("half looked over")
    person.until_step("sign-in")
    person.fill(person="wieland", pin=demo.PIN)
    person.key("Return")
    person.until_step("note")
    assert person.task.lines[0][0] == "Handed over: half looked over"
    person.key("Return")
    person.until_step("intake")
    person.key("Ctrl+W")
    reason("waits for a kit")
    person.until(lambda: "the gauge shows" in window.foot.line.message.text)
    person.hand.set_vent(0.6)
    gauge = person.station._live.desk.gauge.instrument
    person.until(lambda: gauge.latest().value < 1000.0)
    person.key("Ctrl+W")
    reason("waits for a kit")
    person.until_step("open")
    assert "not proven out" in window.view.said
    person.key("F3")
    person.until(lambda: any(row.state == "set aside" for row in queue.list.rows.rows))
    place = next(n for n, row in enumerate(queue.list.rows.rows) if row.state == "set aside")
    assert "waits for a kit" in queue.list.rows.rows[place].reason
    spot = queue.list.visualRect(queue.list.rows.index(place, 0)).center()
    person.qtbot.mouseClick(queue.list.viewport(), Qt.MouseButton.LeftButton, pos=spot)
    person.key("Return")
    person.until(lambda: window.page == "bench")
    person.until_step("intake")
