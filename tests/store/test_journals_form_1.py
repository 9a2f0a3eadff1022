"""Journals as the program wrote them before its facts had form numbers, read as they are today.

Each is a file of records with what that program folded and exported from it: a rehearsal's unit; a
short past of the demo shop (a deviation, QA's words, a set); and a bench in trouble (lost tares,
oil that was not weighed, values read by hand, units set aside, handed over and abandoned).
"""

import dataclasses
import gzip
import json
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.budget_rows import name_from_words
from benchstation.domain.events import RebuildOpened
from benchstation.domain.inputs.stack import StackRecorded
from benchstation.domain.rebuild import fold
from benchstation.domain.statement_words import GAS, UNDONE, worded
from benchstation.domain.statements import Code, Gas, Statement, Undone
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import differences, evidence_in_words, statements
from benchstation.reports.export import as_json, filed_record
from benchstation.store.engine import open_store

FOLDER = Path(__file__).parent / "journals_form_1"
FORMATS = ("benchstation-record/2", "benchstation-record/1")
NAMES = ("rehearsal", "demo_past", "trouble")


def said(found):
    """Return a value with its codes worded: what then stood there as a sentence."""
    if isinstance(found, Mapping) and found.keys() == {"code", "values"}:
        words = worded(Statement(Code(found["code"]), found["values"]))
        return REWORDED.get(words, words)
    if isinstance(found, Mapping):
        return {key: CODED.get(key, said)(item) for key, item in found.items()}
    return [said(item) for item in found] if isinstance(found, list) else found


REWORDED = {"the station was restarted": "the station was started anew"}
"""Sentences that are put otherwise since, by how they stood then."""
CODED = {
    "gas": lambda gas: GAS[Gas(gas)] if isinstance(gas, str) else said(gas),
    "statements": lambda found: [UNDONE[Undone(undone)] for undone in found],
}


def plain(value):
    if dataclasses.is_dataclass(value):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    return value.isoformat() if isinstance(value, datetime) else value


@pytest.fixture(params=NAMES)
def journal(request, tmp_path):
    path = tmp_path / f"{request.param}.sqlite"
    path.write_bytes(gzip.decompress((FOLDER / f"{request.param}.sqlite.gz").read_bytes()))
    then = json.loads(gzip.decompress((FOLDER / f"{request.param}.json.gz").read_bytes()))
    with open_store(path, "") as store:
        yield store, then


def test_the_chain_verifies_and_ends_where_it_ended(journal):
    store, then = journal
    verified = store.verify()
    assert verified.problem == ""
    assert (verified.entries, verified.head) == (then["entries"], then["head"])


def test_every_unit_folds_to_what_it_was(journal):
    store, then = journal
    shop = demo.demo_shop(store)
    opened = [entry.event for entry in store.entries(kind=RebuildOpened.kind)]
    assert [event.unit_id for event in opened] == list(then["units"])
    for event in opened:
        specification = shop.specifications[event.specification_id, event.revision]
        unit = fold(store.entries(unit_id=event.unit_id), specification)
        was = dict(then["units"][event.unit_id]["fold"])
        assert [worded(reason) for reason in unit.hold_reasons] == was.pop("hold_reasons")
        assert (unit.current.id if unit.current else "") == was.pop("current")
        for step_id, signed in was.pop("signatures").items():
            assert_signed(unit.signatures[step_id], signed)
        # An alarm says its gauge since: a bench had but one.
        for alarm in (was["alarms"] or {}).values():
            alarm["gauge_id"] = ""
        # A time aside says since until when, where it waits for a second reading.
        for aside in was["asides"]:
            aside["until"] = ""
        # Oil that was not weighed says since what an empty vessel showed.
        for doubt in was["unweighed"]:
            doubt |= {"seen_empty_kg": None, "scale_id": ""}
        # A charge says since what its temperatures rest on.
        if was["charge"]:
            was["charge"]["conditions"] = []
        for name, expected in was.items():
            assert said(plain(getattr(unit, name))) == typed(expected), (event.serial, name)


def assert_signed(found, was):
    """Hold results by type against the mapping by label, and the sentence, of then."""
    assert (found.person, found.utc.isoformat()) == (was["person"], was["utc"])
    assert_evidence(found.evidence, was)


def assert_evidence(evidence, was):
    assert evidence_in_words(evidence, METRIC) == was["summary"]
    told = list(values(plain(evidence)))
    for key, value in was["evidence"].items():
        if value == "confirmed":
            assert key in statements(evidence)
        missing = [one for one in values(value) if one not in told and value != "confirmed"]
        if key == "differences":
            stack = next(r for r in evidence if isinstance(r, StackRecorded))
            missing = [word for word in value if word not in differences(stack)]
        assert not missing, key


def values(value):
    """Return what stands anywhere in mappings and lists, without their keys."""
    if isinstance(value, dict | list):
        inside = value.values() if isinstance(value, dict) else value
        return [one for item in inside for one in values(item)]
    return [value]


def test_every_filed_unit_is_exported_as_it_was(journal):
    store, then = journal
    filed = {key: unit["export"] for key, unit in then["units"].items() if "export" in unit}
    assert filed
    for unit_id, expected in filed.items():
        filed_now = filed_record(store, unit_id)
        found = as_json(filed_now)
        for trace in found["traces"].values():
            trace["samples"] = len(trace.pop("seconds"))
            del trace["channels"], trace["stored"], trace["note"]
        # The record is read as one of today's form, so it has another hash.
        assert found.pop("record_sha256") != expected.pop("record_sha256")
        assert (found["record"].pop("format"), expected["record"].pop("format")) == FORMATS
        steps = zip(found["record"].pop("steps"), expected["record"].pop("steps"), strict=True)
        for signed, (step, was) in zip(filed_now.record.steps, steps, strict=True):
            assert_evidence(signed.evidence, was)
            del step["evidence"], was["evidence"], was["summary"]
            assert step == was
        found = said(json.loads(json.dumps(found)))
        assert found["record"] == as_now(expected.pop("record"))
        assert {key: found[key] for key in expected} == expected


def as_now(record):
    """Return a record of then with all that today's names: what was left out is empty or null."""
    record = typed(record)
    oil, worked = record["oil"], record.pop("worked", [])
    return {
        "hand_overs": [],
        "recalibrated": [],
        "second_reading": None,
        "set": None,
        "gas_by_mass": None,
        "lots_scanned": [],
        **record,
        "specification": {**record["specification"], "drafted_by": "", "approved_by": ""},
        "asides": [{**aside, "until": ""} for aside in record.get("asides", [])],
        "oil": {"emptied": [], "scales": [], **oil},
        "charge": {**record["charge"], "conditions": []},
        "alarms": [{**alarm, "gauge_id": ""} for alarm in record["alarms"]],
        "instruments": [
            {**one, "check": None, "laboratory": "", "virtual": ""} for one in record["instruments"]
        ],
        "restarts": [],
        "worked": [{("since" if k == "from" else k): v for k, v in w.items()} for w in worked],
    }


def typed(found):
    """Return what stood there with what a value was read on by hand as a value of its own."""
    if isinstance(found, list):
        return [typed(item) for item in found]
    if not isinstance(found, dict):
        return found
    whole = {key: typed(value) for key, value in found.items()}
    if "by_hand" in whole:
        then = whole["by_hand"]
        whole["by_hand"] = {"u_kg": None, "u_pa": None, **then} if then else None
    if "shown_kg" in whole and "trace_sha256" in whole:
        whole |= {**dict.fromkeys(("zero_kg", "u_repeated_kg", "dof_repeated")), "alive": ""}
    if "common" in whole:
        whole["common"] = [name_from_words(name) for name in whole["common"]]
    if "u_result" in whole:
        whole["name"] = name_from_words(whole["name"])
    if "allowed_pa_m3_s" in whole:
        whole |= {"slow_pa_m3_s": 0.0, "doubt": "", "wait_s": 0.0}
        whole |= dict.fromkeys(("record_s", "u_scatter_pa_m3_s", "drift"))
    return whole
