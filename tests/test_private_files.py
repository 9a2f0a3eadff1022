"""Everything that the program writes is its owner's alone: files 0600, folders 0700."""

import os
import stat
import sys
from pathlib import Path

import pytest

from benchstation.atomic_file import keep_private, make_private
from benchstation.cli.main import main
from benchstation.config import set_up
from benchstation.crash import CrashHooks
from benchstation.demo.picture import demo_png
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from benchstation.ui.widgets.forms.specification_text import write_source
from tests.set_up_hands import lead_at_terminal
from tests.stepped_bench import make_bench

pytestmark = pytest.mark.skipif(os.name != "posix", reason="rights of another kind of system")
WAIT_S = 30.0


@pytest.fixture(autouse=True)
def usual_rights():
    """Begin as a shell does, where everybody may read; put back what was."""
    before = os.umask(0o022)
    yield
    os.umask(before)


def loose(*folders: Path) -> list[str]:
    """Return what somebody else could read or enter, below these folders and themselves."""
    found = []
    for folder in folders:
        for path in (folder, *folder.rglob("*")):
            mode = stat.S_IMODE(path.lstat().st_mode)
            if not path.is_symlink() and mode & 0o077:
                found.append(f"{path.relative_to(folder.parent)} {mode:o}")
    return found


def test_what_the_commands_write(tmp_path, monkeypatch):
    home, out = tmp_path / "home", tmp_path / "out"
    monkeypatch.setenv("BENCHSTATION_HOME", str(home))
    lead_at_terminal(monkeypatch)
    file = tmp_path / "bench.toml"
    file.write_text(set_up.example(), "utf-8")
    assert main(["set-up", str(file)]) == 0
    file.write_text(set_up.example().replace('"fill hose" = "35 bar"', '"fill hose" = "36 bar"'))
    assert main(["set-up", str(file)]) == 0
    assert main(["backup", str(out / "copies")]) == 0
    assert main(["verify"]) == 0
    assert main(["restore", str(out / "copies")]) == 0
    assert (home / "settings.json").is_file()
    assert sorted(out.rglob("*.sqlite"))
    assert loose(home, out) == []


def test_what_a_bench_writes_records_photographs_papers_crashes(tmp_path, monkeypatch):
    keep_private()
    home, folder = tmp_path / "home", tmp_path / "data"
    monkeypatch.setenv("BENCHSTATION_HOME", str(home))
    folder.mkdir()
    bench = make_bench(folder)
    (folder / "photo.png").write_bytes(demo_png(1))
    bench.work_to(None)
    station = Station(bench.live, Records(bench.store))
    station.start()
    try:
        unit = bench.store.entries(kind="unit.filed")[-1].event.unit_id
        station.export_record(unit, tmp_path / "papers" / "deep").result(WAIT_S)
        station.write_label(unit, tmp_path / "papers").result(WAIT_S)
    finally:
        station.close()
        bench.store.close()
    write_source(str(tmp_path / "papers" / "family.toml"), "id = 'x'")
    hooks = CrashHooks(folder / "logs", lambda crash: None)
    hooks.install()
    try:
        sys.excepthook(ValueError, ValueError("a fault for the log"), None)
    finally:
        hooks.close()
    names = {path.suffix for path in (tmp_path / "papers").rglob("*") if path.is_file()}
    assert {".pdf", ".json", ".toml"} <= names
    assert any((folder / "logs").iterdir())
    assert loose(folder, tmp_path / "papers") == []


def test_files_of_an_earlier_version_are_made_private_at_a_start(tmp_path):
    folder = tmp_path / "data"
    (folder / "raw").mkdir(parents=True)
    with open_store(folder / "rebuilds.sqlite", "bench-1"):
        pass
    for path in (folder, folder / "raw"):
        path.chmod(0o755)
    for name in ("benchstation.log", "benchstation.log.1", "raw/scale-1.log", "settings.json"):
        (folder / name).write_text("x")
        (folder / name).chmod(0o644)
    other = folder / "letter.txt"
    other.write_text("of somebody else")
    other.chmod(0o644)
    outside = tmp_path / "outside"
    outside.write_text("not ours")
    outside.chmod(0o644)
    (folder / "raw" / "link").symlink_to(outside)
    make_private(folder)
    assert loose(folder) == ["data/letter.txt 644"]
    assert stat.S_IMODE(outside.stat().st_mode) == 0o644, "a link leads nowhere"


def test_a_folder_that_cannot_be_changed_stops_nothing(tmp_path, monkeypatch):
    make_private(tmp_path / "nowhere")

    def refused(*_, **__):
        raise PermissionError("not yours")

    (tmp_path / "rebuilds.sqlite").write_text("x")
    (tmp_path / "rebuilds.sqlite").chmod(0o644)
    monkeypatch.setattr(os, "chmod", refused)
    make_private(tmp_path)
