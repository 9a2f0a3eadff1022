from datetime import UTC, datetime

from benchstation.app import STORE_FILE
from benchstation.cli.main import main
from benchstation.config.settings import home_folder, own_profiles
from benchstation.domain.events import PersonPrefers
from benchstation.store.engine import open_store
from benchstation.store.trust import trust_at

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
