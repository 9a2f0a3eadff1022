"""At the command line: what was cut is found, and a lead signs before the bench goes on."""

import getpass
import hashlib
import json
import sqlite3
from datetime import UTC, datetime

import pytest
import rfc8785

from benchstation.app import STORE_FILE
from benchstation.cli.main import main
from benchstation.config.settings import home_folder
from benchstation.domain.events import BenchKeyMade, PersonEnrolled
from benchstation.domain.people import hash_pin
from benchstation.store.bench_key import KEY_FILE, bench_key
from benchstation.store.engine import open_store
from benchstation.store.trust import trust_at

NOW = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)


def enrolled(name, role):
    return PersonEnrolled(name, name.title(), (role,), hash_pin("471147"))


@pytest.fixture
def file(monkeypatch, tmp_path):
    """Records of this bench with a lead and a technician, closed; an older copy is beside them."""
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    monkeypatch.setattr(getpass, "getpass", lambda prompt: "471147")
    path = tmp_path / "data" / STORE_FILE
    with open_store(path, "bench-1", trust=trust_at(home_folder())) as store:
        store.append([enrolled("lea", "lead")], person="set-up", utc=NOW)
    older = path.read_bytes()
    with open_store(path, "bench-1", trust=trust_at(home_folder())) as store:
        store.append([enrolled("tom", "technician")], person="set-up", utc=NOW)
    (tmp_path / "older").write_bytes(older)
    return path


def refused(capsys, *arguments):
    assert main(arguments) == 2
    return capsys.readouterr().err


def test_a_rolled_back_file_is_found_and_goes_on_when_a_lead_signs(file, capsys, tmp_path):
    assert main(["verify", str(file)]) == 0
    file.write_bytes((tmp_path / "older").read_bytes())
    capsys.readouterr()
    assert main(["verify", str(file)]) == 1
    assert "this bench signed 3 entries" in capsys.readouterr().err
    assert "tom' is no lead" in refused(
        capsys, "accept-loss", "--person", "tom", "--reason", "disk"
    )
    assert main(["accept-loss", "--person", "lea", "--reason", "the disk failed"]) == 0
    assert "signed by Lea: the disk failed" in capsys.readouterr().out
    assert main(["verify"]) == 0


def test_a_wrong_pin_or_no_reason_changes_nothing(file, capsys, monkeypatch):
    before = file.read_bytes()
    assert "no reason" in refused(capsys, "accept-loss", "--person", "lea", "--reason", " ")
    monkeypatch.setattr(getpass, "getpass", lambda prompt: "000000")
    assert "not the PIN" in refused(capsys, "new-key", "--person", "lea", "--reason", "x")
    assert file.read_bytes() == before


def test_a_new_key_is_a_fact_that_a_lead_signs(file, capsys):
    (home_folder() / KEY_FILE).unlink()
    assert "is not the one on record" in refused(
        capsys, "accept-loss", "--person", "lea", "--reason", "no loss"
    )
    assert main(["new-key", "--person", "lea", "--reason", "the computer was stolen"]) == 0
    with open_store(file, "", read_only=True) as store:
        first, second = store.entries(kind=BenchKeyMade.kind)
    assert (second.person, second.event.replaces) == ("lea", first.event.public_key)
    assert second.event.reason == "the computer was stolen"
    assert main(["verify", str(file)]) == 0


def test_a_file_cut_by_another_program_is_found_in_a_rehearsals_folder(tmp_path, capsys):
    data = tmp_path / "data"
    folder = ["--folder", str(tmp_path), "--data", str(data)]
    assert main(["rehearse", "--fast", *folder]) == 0
    path = data / STORE_FILE
    raw = sqlite3.connect(path, isolation_level=None)
    for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type='trigger'").fetchall():
        raw.execute(f"DROP TRIGGER {name}")
    raw.execute("DELETE FROM journal WHERE seq > 20")
    raw.execute("DELETE FROM tree_head WHERE size > 20")
    raw.execute("UPDATE meta SET value = (SELECT seq || ':' || hash FROM journal "
                "ORDER BY seq DESC LIMIT 1) WHERE key = 'head'")  # fmt: skip
    raw.close()
    raw = sqlite3.connect(path)
    raw.close()
    capsys.readouterr()
    assert main(["verify", str(path)]) == 1
    assert "NOT SOUND" in capsys.readouterr().err
    assert main(["rehearse", "--fast", *folder]) == 2


def test_a_copy_brings_lost_records_back(file, capsys, tmp_path):
    copies = tmp_path / "copies"
    assert main(["backup", str(copies)]) == 0
    assert "sound, 3 entries, opened and compared" in capsys.readouterr().out
    file.unlink()
    assert main(["restore", str(copies)]) == 0
    assert main(["verify"]) == 0
    assert "3 entries" in capsys.readouterr().out
    with open_store(file, "bench-1", trust=trust_at(home_folder())) as store:
        store.append([enrolled("ada", "qa")], person="set-up", utc=NOW)
    assert main(["restore", str(copies)]) == 0
    assert "1 are missing" in capsys.readouterr().out


def test_a_damaged_file_is_told_of_like_a_lost_one_and_kept(file, capsys, tmp_path):
    copies = tmp_path / "copies"
    assert main(["backup", str(copies)]) == 0
    with open_store(file, "bench-1", trust=trust_at(home_folder())) as store:
        store.append([enrolled("ada", "qa")], person="set-up", utc=NOW)
    data = file.read_bytes()
    file.unlink()
    capsys.readouterr()
    assert main(["restore", str(copies)]) == 0
    of_a_lost_file = capsys.readouterr().out.splitlines()
    assert "1 are missing" in of_a_lost_file[-1]
    file.write_bytes(data[:5000])
    assert "'benchstation restore FOLDER'" in refused(capsys, "verify")
    (copy,) = copies.glob("*.sqlite")
    assert main(["restore", str(copy)]) == 0
    said = capsys.readouterr().out.splitlines()
    (aside,) = file.parent.glob(f"{file.name}.set-aside-*Z")
    assert said == [
        of_a_lost_file[0],
        f"the damaged file that stood there is kept as {aside.name}",
        *of_a_lost_file[1:],
    ]
    assert aside.read_bytes() == data[:5000]


def test_a_rehearsed_record_proves_itself_without_its_journal(tmp_path, capsys):
    assert main(["rehearse", "--fast", "--folder", str(tmp_path)]) == 0
    capsys.readouterr()
    record = tmp_path / "record.json"
    assert main(["verify", str(record)]) == 0
    out = capsys.readouterr().out
    assert "this computer's key" in out
    key = bench_key(home_folder()).public
    assert key in out
    assert main(["verify", str(record), "--key", key]) == 0
    capsys.readouterr()
    assert main(["verify", str(record), "--key", "00" * 32]) == 1
    assert "another key signed" in capsys.readouterr().err
    data = json.loads(record.read_text("utf-8"))
    data["record"]["serial"] = "MR-9"
    data["record_sha256"] = hashlib.sha256(rfc8785.dumps(data["record"])).hexdigest()
    record.write_text(json.dumps(data), "utf-8")
    assert main(["verify", str(record)]) == 1
    assert "the proof does not hold" in capsys.readouterr().err
