"""Everything in a folder: proven without the project, continued when stopped, whole or none."""

import json
import shutil
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from benchstation.domain.events import PersonPrefers
from benchstation.driver_api.errors import StationError
from benchstation.reports import export_all as module
from benchstation.reports.export_all import export_all
from benchstation.store.engine import open_store
from benchstation.store.trust import trust_at

NOW = datetime(2026, 3, 4, 17, tzinfo=UTC)


@pytest.fixture(scope="module")
def records(filed_bench, tmp_path_factory):
    """The records of two units, signed with a key of their own; closed."""
    folder = tmp_path_factory.mktemp("signed")
    path = folder / "rebuilds.sqlite"
    filed_bench.store.back_up(path)
    open_store(path, "", trust=trust_at(folder / "home")).close()
    return path


@pytest.fixture
def settings(tmp_path):
    file = tmp_path / "settings.json"
    file.write_text('{"version": 2, "shop": "Shop"}')
    return {"settings/settings.json": file}


def export(records, folder, beside, **how):
    with open_store(records, "", read_only=True) as store:
        return export_all(store, folder, beside, NOW, **how)


def proven(folder):
    script = Path(__file__).with_name("prove_export.py")
    done = subprocess.run(
        [sys.executable, "-P", str(script), str(folder)], capture_output=True, text=True
    )
    return done.returncode, done.stdout


@pytest.fixture
def whole(records, tmp_path, settings):
    done = export(records, tmp_path / "all", settings, pdf=True)
    assert (done.units, done.folder) == (2, tmp_path / "all")
    return done


def test_it_is_proven_without_the_project(whole):
    code, out = proven(whole.folder)
    assert code == 0, out
    assert f"{whole.entries} entries, {whole.entries} of them under a signature" in out
    assert "2 records" in out


def test_all_of_it_is_there_and_nothing_else(whole, settings):
    names = {f.relative_to(whole.folder).parts[0] for f in whole.folder.rglob("*") if f.is_file()}
    assert names == {"README.txt", "index.json", "journal", "records", "content", "papers",
                     "schema", "settings"}  # fmt: skip
    copy = whole.folder / "settings" / "settings.json"
    assert copy.read_bytes() == settings["settings/settings.json"].read_bytes()
    assert len(list((whole.folder / "papers").glob("*.pdf"))) == 2
    assert not list(whole.folder.rglob("*.part"))


def lines(folder, pattern):
    return [json.loads(line) for f in sorted(folder.glob(pattern))
            for line in f.read_bytes().splitlines()]  # fmt: skip


FILES = {
    "journal.schema.json": "journal/*-0*.jsonl",
    "heads.schema.json": "journal/*.heads.jsonl",
    "records.schema.json": "records/*.jsonl",
    "traces.schema.json": "content/traces-*.jsonl",
    "index.schema.json": "index.json",
}


@pytest.mark.parametrize(("schema", "pattern"), FILES.items())
def test_every_line_fits_its_schema(whole, schema, pattern):
    wanted = json.loads((whole.folder / "schema" / schema).read_bytes())
    if pattern == "index.json":
        found = [json.loads((whole.folder / pattern).read_bytes())]
    else:
        found = lines(whole.folder, pattern)
    assert found
    judge = Draft202012Validator(wanted)
    judge.check_schema(wanted)
    assert [list(judge.iter_errors(line)) for line in found] == [[]] * len(found)
    assert not judge.is_valid({"no": "such"})


def test_every_body_fits_the_schema_of_its_kind(whole):
    kinds = json.loads((whole.folder / "schema" / "bodies.schema.json").read_bytes())["kinds"]
    for entry in lines(whole.folder, FILES["journal.schema.json"]):
        judge = Draft202012Validator(kinds[entry["kind"]])
        assert list(judge.iter_errors(entry["body"])) == [], entry["kind"]


SPOILT = {
    "a word of an entry": ("journal/*-00001.jsonl", b"T-1", b"T-9"),
    "a trace": ("content/traces/*.bin", b"BSTRACE1", b"BSTRACE2"),
    "a signature": ("journal/*.heads.jsonl", b'"signature": "', b'"signature": "00'),
}


@pytest.mark.parametrize(("pattern", "old", "new"), SPOILT.values(), ids=SPOILT)
def test_what_is_changed_afterwards_is_found(whole, pattern, old, new):
    """Even where the index was made to fit."""
    file = sorted(whole.folder.glob(pattern))[0]
    data = file.read_bytes()
    assert old in data
    file.write_bytes(data.replace(old, new, 1))
    index = json.loads((whole.folder / "index.json").read_bytes())
    for listed in index["files"]:
        found = whole.folder / listed["path"]
        listed.update(bytes=found.stat().st_size, sha256=module._sha256(found))
    (whole.folder / "index.json").write_text(json.dumps(index))
    code, out = proven(whole.folder)
    assert (code, "NOT PROVEN" in out) == (1, True)


class StoppedHere(Exception):
    pass


def test_one_that_was_stopped_anywhere_is_continued_and_whole(
    records, whole, tmp_path, settings, monkeypatch
):
    target, put, left = tmp_path / "again", module.put_in_place, [1]

    def stopping(part, path):
        left[0] -= 1
        if not left[0]:
            raise StoppedHere
        return put(part, path)

    monkeypatch.setattr(module, "put_in_place", stopping)
    for at in (1, 2, 5, 3, 4):
        left[0] = at
        with pytest.raises(StoppedHere):
            export(records, target, settings)
        assert not target.exists()
    monkeypatch.setattr(module, "put_in_place", put)
    export(records, target, settings)
    assert proven(target)[0] == 0
    for file in (f for f in target.rglob("*") if f.is_file() and f.name != "index.json"):
        assert file.read_bytes() == (whole.folder / file.relative_to(target)).read_bytes()


def test_a_stopped_one_stays_of_its_moment_while_the_bench_goes_on(
    records, tmp_path, settings, monkeypatch
):
    path = tmp_path / "bench" / "rebuilds.sqlite"
    path.parent.mkdir()
    shutil.copyfile(records, path)
    monkeypatch.setattr(module._Export, "_content", lambda self: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        export(path, tmp_path / "all", settings)
    monkeypatch.undo()
    home = records.parent / "home"
    with open_store(path, "", trust=trust_at(home)) as store:
        before = store.head()[0]
        store.append([PersonPrefers("p", text_scale=115)], person="p", utc=NOW)
    assert export(path, tmp_path / "all", settings).entries == before
    assert proven(tmp_path / "all")[0] == 0


def test_a_folder_that_is_there_is_left_alone(records, tmp_path, settings):
    (tmp_path / "all").mkdir()
    (tmp_path / "all" / "mine").touch()
    with pytest.raises(StationError, match="not empty"):
        export(records, tmp_path / "all", settings)
    assert [f.name for f in (tmp_path / "all").iterdir()] == ["mine"]
