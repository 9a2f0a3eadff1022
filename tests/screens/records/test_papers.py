"""What is written of a unit is on record with its hash, and changes nothing of the record."""

import hashlib

import pytest

from benchstation.domain.events import PaperWritten, UnitFiled
from benchstation.reports.export import as_json, filed_record
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station

WAIT_S = 20.0


@pytest.fixture
def station(bench):
    """A station that has filed a unit, with somebody signed in."""
    bench.work_to(None)
    made = Station(bench.live, Records(bench.store))
    made.start()
    yield made, bench
    made.close()


def papers(bench):
    return [(e.person, e.event) for e in bench.store.entries(kind=PaperWritten.kind)]


def settled(made) -> None:
    made.ask(lambda: "").result(WAIT_S)


def test_pdf_json_and_label_are_on_record_with_their_hash_and_who_wrote_them(station, tmp_path):
    made, bench = station
    unit = bench.store.entries(kind=UnitFiled.kind)[-1].event.unit_id
    before = as_json(filed_record(bench.store, unit))
    paths = made.export_record(unit, tmp_path).result(WAIT_S)
    paths = [*paths, *made.write_label(unit, tmp_path).result(WAIT_S)]
    settled(made)
    told = papers(bench)
    assert [event.what for _, event in told] == ["certificate", "record", "label", "label"]
    assert {(person, event.unit) for person, event in told} == {("kofler", unit)}
    assert [event.sha256 for _, event in told] == [
        hashlib.sha256(path.read_bytes()).hexdigest() for path in paths
    ]
    after = as_json(filed_record(bench.store, unit))
    for name in ("record", "record_sha256"):
        assert after[name] == before[name]
    for name in ("now", "qa"):
        assert after["standing"][name] == before["standing"][name]
    assert bench.store.verify().ok


def test_what_could_not_be_written_is_not_on_record(station, tmp_path):
    made, bench = station
    unit = bench.store.entries(kind=UnitFiled.kind)[-1].event.unit_id
    (tmp_path / "file").write_text("no folder", "utf-8")
    with pytest.raises(Exception, match="file"):
        made.export_record(unit, tmp_path / "file").result(WAIT_S)
    settled(made)
    assert papers(bench) == []


def test_a_record_that_is_printed_is_a_file_whose_hash_is_on_record(station, tmp_path):
    made, bench = station
    unit = bench.store.entries(kind=UnitFiled.kind)[-1].event.unit_id
    (path,) = made.write_certificate(unit, tmp_path).result(WAIT_S)
    settled(made)
    ((person, event),) = papers(bench)
    assert (person, event.what, event.unit) == ("kofler", "certificate", unit)
    assert event.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
