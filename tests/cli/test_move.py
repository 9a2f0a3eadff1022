import getpass
from datetime import UTC, datetime

import pytest

from benchstation.app import STORE_FILE
from benchstation.cli.main import main
from benchstation.config.settings import Settings, home_folder, load_settings, save_settings
from benchstation.domain.events import PersonEnrolled
from benchstation.domain.people import hash_pin
from benchstation.store.engine import open_store
from benchstation.store.trust import trust_at

NOW = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)
PIN, PHRASE = "471147", "correct horse battery"


@pytest.fixture
def typed(monkeypatch):
    """Answer what is not shown as it is typed, by the first word that is said."""
    answers = {"PIN": PIN, "Passphrase": PHRASE, "The": PHRASE}
    monkeypatch.setattr(getpass, "getpass", lambda prompt: answers[prompt.split()[0]])
    return answers


@pytest.fixture
def old(monkeypatch, tmp_path, typed):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "old"))
    save_settings_at(tmp_path / "old", tmp_path / "elsewhere")
    path = load_settings().data_path / STORE_FILE
    with open_store(path, "bench-1", trust=trust_at(home_folder())) as store:
        lead = PersonEnrolled("lea", "Lea", ("lead",), hash_pin(PIN))
        store.append([lead], person="set-up", utc=NOW)
    return path


def save_settings_at(home, data):
    home.mkdir(exist_ok=True)
    save_settings(Settings(shop="Shop", data_dir=data))


def test_a_bench_moves_and_runs_on_there(old, tmp_path, monkeypatch, capsys):
    folder = str(tmp_path / "move")
    assert main(["move", folder]) == 2
    assert "a lead signs for a move" in capsys.readouterr().err
    assert main(["move", folder, "--person", "lea", "--reason", "a new computer"]) == 0
    assert "3 entries" in capsys.readouterr().out
    # Once more, as after it was killed at its very end.
    assert main(["move", folder, "--person", "lea", "--reason", "a new computer"]) == 0
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "new"))
    capsys.readouterr()
    assert main(["move", folder, "--take"]) == 0
    said = capsys.readouterr().out
    assert str(tmp_path / "new" / "data") in said
    assert load_settings().shop == "Shop"
    assert load_settings().data_dir is None
    assert main(["verify"]) == 0
    open_store(load_settings().data_path / STORE_FILE, "bench-1",
               trust=trust_at(home_folder())).close()  # fmt: skip


@pytest.mark.parametrize(
    ("prompt", "answer", "said"),
    [
        ("PIN", "000000", "not the PIN"),
        ("Passphrase", "short", "at least 10"),
        ("The", "other", "not the same"),
    ],
)
def test_a_wrong_word_changes_nothing(old, tmp_path, typed, capsys, prompt, answer, said):
    typed[prompt] = answer
    before = old.read_bytes()
    assert main(["move", str(tmp_path / "m"), "--person", "lea", "--reason", "x"]) == 2
    assert said in capsys.readouterr().err
    assert old.read_bytes() == before
    assert not (tmp_path / "m").exists()
