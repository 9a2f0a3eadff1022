import hashlib
from datetime import UTC, datetime

from benchstation.app import STORE_FILE
from benchstation.cli.main import main
from benchstation.config.settings import home_folder, own_profiles
from benchstation.domain.events import PersonPrefers
from benchstation.store.engine import open_store
from benchstation.store.trust import trust_at
from tests.stepped_bench import make_bench

NOW = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)


def test_settings_and_profiles_go_with_the_records_and_the_key_does_not(
    monkeypatch, tmp_path, capsys
):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "home"))
    path = tmp_path / "home" / "data" / STORE_FILE
    with open_store(path, "bench-1", trust=trust_at(home_folder())) as store:
        store.append([PersonPrefers("p", text_scale=115)], person="p", utc=NOW)
    own_profiles().mkdir()
    (own_profiles() / "mine.toml").write_text("# mine")
    (home_folder() / "settings.json").write_text('{"version": 2}')
    assert main(["export-all", str(tmp_path / "all")]) == 0
    assert "2 entries, 0 filed units" in capsys.readouterr().out
    names = {f.relative_to(tmp_path / "all").as_posix() for f in (tmp_path / "all").rglob("*")}
    assert {"settings/settings.json", "settings/profiles/mine.toml", "README.txt"} <= names
    for file in (f for f in (tmp_path / "all").rglob("*") if f.is_file()):
        assert b"PRIVATE KEY" not in file.read_bytes()
    assert main(["export-all", str(tmp_path / "all")]) == 2
    assert "not empty" in capsys.readouterr().err


def filed_bench(monkeypatch, tmp_path):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "home"))
    (tmp_path / "home" / "data").mkdir(parents=True)
    bench = make_bench(tmp_path)
    bench.work_to(None, serial="E-1", family="sledge-36")
    bench.store.close()
    path = tmp_path / "home" / "data" / STORE_FILE
    (tmp_path / "rebuilds.sqlite").rename(path)
    open_store(path, "", trust=trust_at(home_folder())).close()
    return path


def test_papers_of_an_export_are_on_record_and_verify_finds_them(monkeypatch, tmp_path, capsys):
    path = filed_bench(monkeypatch, tmp_path)
    assert main(["export-all", "--pdf", str(tmp_path / "all")]) == 0
    assert "1 papers were written, which is on record" in capsys.readouterr().out
    (paper,) = (tmp_path / "all" / "papers").iterdir()
    with open_store(path, "", read_only=True) as store:
        (noted,) = [entry.event for entry in store.entries(kind="paper.written")]
    assert noted.sha256 == hashlib.sha256(paper.read_bytes()).hexdigest()
    assert main(["verify", str(paper), "--journal", str(path)]) == 0
    assert "byte for byte" in capsys.readouterr().out


def test_where_the_records_are_in_use_it_says_that_nothing_was_noted(monkeypatch, tmp_path, capsys):
    path = filed_bench(monkeypatch, tmp_path)
    with open_store(path, "", trust=trust_at(home_folder())) as store:
        assert main(["export-all", "--pdf", str(tmp_path / "all")]) == 0
        assert "1 papers were written, which is NOT on record: " in capsys.readouterr().out
        assert store.entries(kind="paper.written") == []
