"""What goes wrong at a bench, told by keys and clicks only through the real window."""

import stat
import time

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.domain.events import (
    AlarmChanged,
    DeviationSigned,
    MassCaptured,
    StepSigned,
    TareLost,
)
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import PASS
from tests.end_to_end.conftest import window_at
from tests.end_to_end.hands import (
    capture_inside,
    change_person,
    charge,
    fill_gas,
    pour,
    sign_in,
    tare,
)
from tests.waiting import eventually

pytestmark = pytest.mark.timeout(150)


def events(person, kind):
    return [e.event for e in person.session.store.entries(kind=kind.kind)]


def lines(person) -> str:
    return " | ".join(text for text, _ in person.task.lines)


def test_an_overfill_is_taken_out_poured_back_and_weighed_again(at_pour):
    person = at_pour
    tare(person, "body")
    pour(person, over_kg=0.006)
    person.until(lambda: "take some out" in lines(person))
    person.key("Space")
    person.until(lambda: "last captured: fail" in lines(person))
    assert person.task.step_id == "oil", "it is not signed by itself"
    for _ in range(9):
        person.hand.take_out()
    person.until(lambda: person.task.big.caption != "too much")
    pour(person)
    person.key("Space")
    person.until_step("bleed")
    judged = [a.decision for a in person.session.rebuild.attempts if a.what == "oil"]
    assert judged == ["fail", "pass"], "both weighings are on record"
    assert not person.session.rebuild.hold_reasons


def test_a_deviation_is_accepted_by_the_lead_and_by_nobody_else(at_pour):
    person = at_pour
    tare(person, "body")
    pour(person, over_kg=0.004)
    person.key("Space")
    person.until(lambda: "last captured: fail" in lines(person))
    (offered,) = (a for a in person.task.actions if a.id == "deviation")
    assert not offered.enabled
    person.key(offered.key)
    person.qtbot.wait(100)
    assert not events(person, DeviationSigned)
    change_person(person, "oberhauser")
    person.click("deviation")
    person.give_reason("within what this vehicle tolerates")
    person.until_step("bleed")
    (entry,) = person.session.store.entries(kind=DeviationSigned.kind)
    assert (entry.person, entry.event.reason) == (
        "oberhauser",
        "within what this vehicle tolerates",
    )
    assert person.session.rebuild.hold_reasons


def test_a_plug_is_pulled_mid_pour(at_pour):
    person = at_pour
    session, port = person.session, person.bench.served.scale
    tare(person, "body")
    person.hand.set_pour(0.5)
    person.until(lambda: session.scale.instrument.latest().value > 0.05)
    port.unplug()
    person.until(lambda: person.window.view.strip[0].stale, 1.0)
    person.hand.set_pour(0.0)
    person.until(lambda: "The tare is lost" in person.window.view.said, 1.0)
    person.key("Space")
    person.qtbot.wait(100)
    assert not session.rebuild.captures
    port.replug()
    start = time.perf_counter()
    person.until(lambda: not person.window.view.strip[0].stale, 3.0)
    assert time.perf_counter() - start < 2.0
    assert person.weighs(Phase.NEED_TARE)
    assert not person.can("capture")
    # Half a pour that nothing proves goes back into the jug.
    person.bench.world.model.oil_kg = 0.0
    tare(person, "body")
    pour(person)
    person.key("Space")
    person.until_step("bleed")
    assert len(events(person, TareLost)) == 1
    (captured,) = events(person, MassCaptured)
    assert captured.shown_kg == pytest.approx(person.bench.world.model.oil_kg, abs=1e-3)


def test_over_pressure_while_the_window_stands_still(at_charge, tmp_path):
    """Its thread does nothing but look: state, record and sound do not wait for it."""
    person, heard = at_charge, tmp_path / "heard"
    player = tmp_path / "player"
    player.write_text(f'#!/bin/sh\nbasename "$1" >> "{heard}"\n')
    player.chmod(player.stat().st_mode | stat.S_IXUSR)
    sounder = person.window.sounder
    sounder._player, sounder.available = str(player), True
    session = person.session
    limit = session.watch.limits.limit_gauge_pa
    person.hand.set_regulator(limit + 4e5)
    person.hand.set_valve(1.0)
    eventually(lambda: heard.exists() and heard.read_text().split().count("alarm.wav") >= 2)
    eventually(lambda: any(e.alarm == "high limit" for e in events(person, AlarmChanged)))
    person.hand.set_valve(0.0)
    assert not person.window.view.alarms, "the window has not drawn it yet"
    snapshot = session.watch.snapshot()
    assert snapshot.capture_locked
    assert snapshot.worst.kind.value == "high limit"
    raised = [e for e in events(person, AlarmChanged) if e.alarm == "high limit"]
    assert {e.state for e in raised} == {"active, unacknowledged"}
    assert len({e.episode for e in raised}) == 1, "each further rise is of the same episode"
    person.until(lambda: bool(person.window.view.alarms), 1)
    assert person.window.banners.banners[0].isVisible()
    entries = session.store.entries(kind=AlarmChanged.kind)
    late_s = (entries[0].utc - session.clock.utc()).total_seconds() / session.clock.pace
    assert late_s < -1.0, "it was on record long before the window moved"


def test_a_restart_in_the_middle_of_a_charge(qtbot, middle):
    """What was captured stays, the hold test begins anew, and no gas need be let in again."""
    bench, path = middle(StepKind.CHARGE)
    with window_at(qtbot, path, bench) as person:
        sign_in(person)
        fill_gas(person, 1.16 * person.session.work.charge_target.target_gauge_pa)
        person.until(lambda: "will settle at" in lines(person), 30)
        signed = person.session.rebuild.signatures
    gas_kg = bench.world.model.gas_kg
    with window_at(qtbot, path, bench) as person:
        sign_in(person)
        person.until_step("charge")
        assert person.session.rebuild.signatures == signed
        person.until(lambda: "will settle at" in lines(person), 30)
        assert bench.world.model.gas_kg == pytest.approx(gas_kg), "no gas was let in for that"
        capture_inside(person)
        assert person.session.rebuild.charge.decision == PASS
        person.click("hold")
        person.until(lambda: "hold test:" in lines(person))
    with window_at(qtbot, path, bench) as person:
        sign_in(person)
        person.until_step("charge")
        assert person.session.rebuild.charge.decision == PASS, "the capture stays"
        assert person.session.rebuild.hold is None, "half a hold test proves nothing"
        charge(person)
        assert person.session.rebuild.hold.decision == PASS
        assert len([e for e in events(person, StepSigned) if e.step_id == "charge"]) == 1
        assert person.session.store.verify().ok
