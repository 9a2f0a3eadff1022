"""Every fault is played over real lines, and what the station makes of it is held to the truth."""

import json
from dataclasses import replace
from functools import cache

import pytest

from benchstation.cli.main import BAD_INPUT, NOT_IN_ORDER, main
from benchstation.demo import fault_run
from benchstation.demo.fault_run import FaultRehearsal, FaultReport
from benchstation.demo.faults import FAULTS, fault_named
from benchstation.demo.play import noted

TODAYS_KEYS = {
    "ok", "problems", "serial", "unit_id", "decision", "oil_target_kg", "oil_net_kg",
    "oil_expanded_kg", "oil_decision", "charge_target_gauge_pa", "charge_settled_gauge_pa",
    "charge_expanded_pa", "charge_decision", "leak_pa_m3_s", "hold_decision", "steps",
    "journal_entries", "journal_head", "scale_url", "gauge_url", "seconds", "record_json",
    "record_pdf",
}  # fmt: skip


def play(name: str, folder) -> FaultReport:
    def tell(word: str, done: int, total: int) -> None:
        pass

    run = FaultRehearsal(fault_named(name), folder / "data", folder, 1, fault_run.FAST_PACE, tell)
    return run.run()


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """Play a fault once, whichever tests ask for it."""
    return cache(lambda name: play(name, tmp_path_factory.mktemp(name)))


@pytest.mark.parametrize("name", list(FAULTS))
def test_the_fault_is_caught(name, played):
    report = played(name)
    assert report.missed == ()
    assert report.caught
    assert (
        not (report.data["decision"] == "pass" and not report.data["qa_hold"])
        or (report.data["truth"]["inside"])
    )


def test_an_overfilled_unit_is_told_by_record_and_truth_alike(played):
    data = played("overfill").data
    assert data.keys() >= TODAYS_KEYS
    assert data["filed"]
    assert data["qa_hold"]
    assert data["hold_reasons"]
    assert [d["step"] for d in data["deviations"]] == ["oil", "bleed"]
    assert data["steps"]["bleed"] == {"state": "signed", "verdict": "fail, deviation"}
    assert data["steps"]["file"]["state"] == "filed"
    truth = data["truth"]
    assert not truth["oil_inside"]
    # 6 g too much of an oil of 0.848 g/mL; the family tolerates 2 mL.
    assert truth["oil_volume_ref_m3"] == pytest.approx(262e-6 + 0.006 / 848, abs=1.0e-6)
    assert data["oil_net_kg"] == pytest.approx(truth["oil_kg"], rel=2e-3)


def test_an_alarm_is_told_with_its_peak_and_who_acknowledged_it(played):
    data = json.loads(fault_run.as_json(played("over-pressure")))
    (limit,) = [alarm for alarm in data["alarms"] if alarm["kind"] == "high limit"]
    assert limit["peak_gauge_pa"] > 35e5
    assert limit["acknowledged_by"] == "kofler"
    assert data["caught"] is True


def test_the_faults_are_listed_a_name_a_line(capsys):
    assert main(["rehearse", "--faults"]) == 0
    listed = capsys.readouterr().out.splitlines()
    assert listed == list(FAULTS)
    assert listed[:6] == [
        "overfill", "over-pressure", "pulled-plug", "short-fill", "wrong-lot", "frozen-scale",
    ]  # fmt: skip


def test_an_unknown_fault_is_refused_in_one_line_with_the_names(capsys):
    assert main(["rehearse", "--fault", "gremlins", "--fast"]) == BAD_INPUT
    (line,) = capsys.readouterr().err.splitlines()
    assert "gremlins" in line
    assert all(name in line for name in FAULTS)


def test_a_demand_that_is_not_met_is_said_and_makes_the_command_fail(tmp_path, capsys, monkeypatch):
    never = noted("never", "something that no script notes")
    missed = replace(fault_named("tick-too-early"), demands=(never,))
    monkeypatch.setitem(FAULTS, missed.name, missed)
    code = main(["rehearse", "--fault", missed.name, "--fast", "--folder", str(tmp_path)])
    assert code == NOT_IN_ORDER
    said = capsys.readouterr().out
    assert "NOT CAUGHT" in said
    assert "MISSED  something that no script notes" in said
