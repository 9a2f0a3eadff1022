"""The record as JSON: everything a later reader needs, checkable without this program."""

import gzip
import hashlib
import json
from pathlib import Path

import pytest
import rfc8785

from benchstation.domain.unit_record import record_in
from benchstation.driver_api.errors import StationError
from benchstation.reports.export import FORM, filed_record, write_json
from benchstation.reports.record_check import alone, exported_in
from benchstation.store.errors import NotOnRecordError


def test_json_round_trip(filed, tmp_path):
    data = json.loads(write_json(filed[0], tmp_path / "r.json").read_text("utf-8"))
    assert data["record"] == filed[0].record.as_json()
    assert record_in(data["record"]) == filed[0].record
    assert filed[0].entry.event.record == data["record"], "as the journal holds it"
    assert data["journal"] == {
        "bench": "bench-2",
        "entry": filed[0].entry.seq,
        "hash": filed[0].entry.hash,
    }


def test_the_hash_can_be_made_again_by_anyone(filed, tmp_path):
    data = json.loads(write_json(filed[0], tmp_path / "r.json").read_text("utf-8"))
    assert hashlib.sha256(rfc8785.dumps(data["record"])).hexdigest() == data["record_sha256"]


def test_a_record_that_a_newer_version_wrote_is_not_judged(filed, tmp_path):
    content = write_json(filed[0], tmp_path / "r.json").read_bytes()
    checked = alone(exported_in(content, "r.json"), {}, "r.json")
    assert (checked.entry, checked.hash) == (filed[0].entry.seq, filed[0].entry.hash)
    newer = json.dumps({**json.loads(content), "form": FORM + 1}).encode()
    with pytest.raises(StationError, match=r"newer version .*form 5, this one knows 4") as raised:
        exported_in(newer, "r.json")
    assert raised.value.where == "r.json"


def test_a_record_exported_before_it_named_its_form_is_checked_as_it_is():
    kept = Path(__file__).parent.parent / "store" / "journals_form_1" / "rehearsal.json.gz"
    (unit,) = json.loads(gzip.decompress(kept.read_bytes()))["units"].values()
    checked = alone(exported_in(json.dumps(unit["export"]).encode(), "r"), {}, "r")
    assert (checked.entry, checked.hash) == (45, unit["export"]["journal"]["hash"])
    assert not checked.proven, "it carries no proof, and no journal is at hand"
    unit["export"]["record"]["oil"]["net_shown_kg"] += 1e-4
    with pytest.raises(StationError, match="changed after it was written"):
        exported_in(json.dumps(unit["export"]).encode(), "r")


def test_traces_hold_every_sample(filed, tmp_path):
    data = json.loads(write_json(filed[0], tmp_path / "r.json").read_text("utf-8"))
    for name in ("pour", "bleed", "charge", "hold"):
        trace = filed[0].trace(name)
        written = data["traces"][name]
        (channel,) = written["channels"].values()
        assert len(channel) == len(written["seconds"]) == len(trace.t_us)
        assert written["sha256"] == trace.sha256
        assert channel == list(next(iter(trace.channels.values())))


def test_the_pour_ends_at_what_was_captured(filed):
    captured = next(c.shown_kg for c in filed[0].record.oil.captures if c.purpose == "pour")
    trace = filed[0].trace("pour")
    assert trace.channels["mass_kg"][-1] == pytest.approx(captured, abs=3e-4)


def test_a_unit_that_is_not_filed_has_no_record(filed_bench):
    with pytest.raises(NotOnRecordError, match="not filed"):
        filed_record(filed_bench.store, "no-such-unit")
