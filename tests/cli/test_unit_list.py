"""Lists from the command line, while the records are only read; their columns in the help."""

import json
from datetime import UTC, datetime

from benchstation.app import STORE_FILE
from benchstation.cli.main import main
from benchstation.config.settings import home_folder
from benchstation.domain.events import PersonPrefers, RebuildOpened
from benchstation.reports.unit_list import COLUMNS
from benchstation.store.engine import open_store
from benchstation.store.trust import trust_at
from tests.import_reader import ROOT

NOW = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)


def test_a_list_is_written_and_says_up_to_where_it_tells(monkeypatch, tmp_path, capsys):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "home"))
    path = tmp_path / "home" / "data" / STORE_FILE
    with open_store(path, "bench-1", trust=trust_at(home_folder())) as store:
        opened = RebuildOpened("u1", "MR-1", "MR 46", "s", 1, "L-1")
        store.append([opened, PersonPrefers("p", text_scale=115)], person="p", utc=NOW)
        seq, own = store.head()
    assert main(["list", str(tmp_path / "out"), "state:open serial:mr-1"]) == 0
    said = capsys.readouterr().out
    assert f"one unit, up to bench-1, entry {seq}, 20" in said
    assert own in said
    (csv,) = (tmp_path / "out").glob("*.csv")
    assert "bench-1,u1,MR-1,MR 46," in csv.read_text("utf-8")
    assert main(["list", "--records", str(tmp_path / "out")]) == 0
    (lines,) = (tmp_path / "out").glob("*.jsonl")
    assert [json.loads(line) for line in lines.read_text().splitlines()] == [], "none is filed"
    assert main(["list", str(tmp_path / "out"), "state:sold"]) == 2
    assert 'State: write "open"' in capsys.readouterr().err
    there = sorted((tmp_path / "out").iterdir())
    for records in ([], ["--records"]):
        assert main(["list", *records, str(tmp_path / "out"), "serail:mr-1"]) == 2
        assert "There is no filter “serail”; the nearest is “serial”." in capsys.readouterr().err
    assert sorted((tmp_path / "out").iterdir()) == there, "no empty list is left"


def test_the_help_says_of_each_column_what_stands_in_it():
    help_text = (ROOT / "resources/help/records.md").read_text("utf-8")
    for name, what in COLUMNS.items():
        assert f"`{name}`: {what}" in help_text
