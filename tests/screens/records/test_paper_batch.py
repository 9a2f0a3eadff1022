"""A hundred certificates: with progress, to be stopped, and whole or not at all."""

import hashlib
from datetime import UTC, datetime

import pytest

from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.elements import Tone
from benchstation.screens.records import paper_batch
from benchstation.screens.records.page import Records
from benchstation.screens.records.paper_batch import PaperBatch
from tests.stepped_bench import make_bench

NOW = datetime(2026, 3, 4, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def records(tmp_path_factory):
    bench = make_bench(tmp_path_factory.mktemp("batch"))
    bench.work_to(None, serial="B-1", family="sledge-36")
    bench.session.act("next", {})
    bench.work_to(None, serial="B-2", family="sledge-36")
    yield Records(bench.store)
    bench.store.close()


def run(batch, folder, text="B-", note=lambda _: None):
    batch.begin()
    return batch.run(text, folder, UnitSystem.METRIC, NOW, note)


def test_all_that_is_found_is_written_noted_and_told(records, tmp_path):
    noted, batch = [], PaperBatch(records)
    paths = run(batch, tmp_path, note=noted.extend)
    assert [path.name[:4] for path in paths] == ["B-1_", "B-2_"]
    assert {path.parent.name for path in paths} == {"papers_20260304-120000"}
    assert [fact.what for fact in noted] == ["certificate"] * 2
    digests = {hashlib.sha256(path.read_bytes()).hexdigest() for path in paths}
    assert {fact.sha256 for fact in noted} == digests
    assert batch.view().words == f"2 certificates written into {paths[0].parent}."
    assert (batch.view().tone, batch.view().share) == (Tone.GOOD, None)


def test_stopped_it_leaves_nothing_and_notes_nothing(records, tmp_path, monkeypatch):
    batch, noted, shown = PaperBatch(records), [], []
    write = Records.certificate

    def while_somebody_stops_it(self, unit_id, folder, system):
        (path,) = write(self, unit_id, folder, system)
        shown.append((batch.view().share, path.is_file()))
        batch.stop()
        return (path,)

    monkeypatch.setattr(Records, "certificate", while_somebody_stops_it)
    assert run(batch, tmp_path, note=noted.extend) == ()
    assert shown == [(0.0, True)]
    assert list(tmp_path.iterdir()) == []
    assert noted == []
    assert batch.view().words == "Stopped: no paper was written."


def test_a_paper_that_fails_leaves_nothing(records, tmp_path, monkeypatch):
    def fails(*_):
        raise StationError("the disk is full.")

    monkeypatch.setattr(Records, "certificate", fails)
    batch = PaperBatch(records)
    with pytest.raises(StationError):
        run(batch, tmp_path)
    assert list(tmp_path.iterdir()) == []
    assert batch.view().words == "No paper was written: the disk is full."


def test_nothing_found_is_said(records, tmp_path):
    with pytest.raises(StationError, match="no filed unit is found"):
        run(PaperBatch(records), tmp_path, text="no such serial")


def test_many_are_written_by_another_process_with_the_same_bytes(records, tmp_path, monkeypatch):
    here = run(PaperBatch(records), tmp_path / "here")
    monkeypatch.setattr(paper_batch, "APART_FROM", 1)
    there = run(PaperBatch(records), tmp_path / "there")
    assert [p.read_bytes() for p in there] == [p.read_bytes() for p in here]
