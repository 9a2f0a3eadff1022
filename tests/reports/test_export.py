"""The record as JSON: everything a later reader needs, checkable without this program."""

import gzip
import hashlib
import json
from pathlib import Path

import pytest
import rfc8785

from benchstation.domain.unit_record import record_in
from benchstation.driver_api.errors import StationError
from benchstation.reports.export import FORM, check_json, filed_record, write_json
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
    path = write_json(filed[0], tmp_path / "r.json")
    checked = check_json(path)
    assert (checked.entry, checked.hash) == (filed[0].entry.seq, filed[0].entry.hash)
    data = json.loads(path.read_text("utf-8"))
    path.write_text(json.dumps({**data, "form": FORM + 1}), encoding="utf-8")
    with pytest.raises(StationError, match=r"newer version .*form 3, this one knows 2") as raised:
        check_json(path)
    assert raised.value.where == str(path)


def test_a_record_exported_before_it_named_its_form_is_checked_as_it_is(tmp_path):
    kept = Path(__file__).parent.parent / "store" / "journals_form_1" / "rehearsal.json.gz"
    (unit,) = json.loads(gzip.decompress(kept.read_bytes()))["units"].values()
    path = tmp_path / "r.json"
    path.write_text(json.dumps(unit["export"]), encoding="utf-8")
    checked = check_json(path)
    assert (checked.entry, checked.hash) == (45, unit["export"]["journal"]["hash"])
    unit["export"]["record"]["oil"]["net_shown_kg"] += 1e-4
    path.write_text(json.dumps(unit["export"]), encoding="utf-8")
    with pytest.raises(StationError, match="changed after it was written"):
        check_json(path)


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
