import hashlib
import json
import sqlite3
from contextlib import closing
from importlib.resources import files

import pytest
import rfc8785

from benchstation.cli.main import main
from benchstation.config.settings import parse_settings, save_settings
from benchstation.demo import shop as demo
from benchstation.reports.export import filed_record, write_json
from benchstation.store.engine import open_store
from tests.stepped_bench import make_bench

BENCH = {
    "path_ratings": {"hose": "35 bar"},
    "instruments": [
        {"id": "s", "role": "scale", "profile": "scale-status-first", "url": "/dev/null"},
        {"id": "g", "role": "gauge", "profile": "gauge-value-unit", "url": "/dev/null"},
    ],
}

OIL = ["calc", "oil", "--volume", "262 mL", "--density", "0.8513 g/mL"]


def run(capsys, *arguments):
    code = main(arguments)
    out, err = capsys.readouterr()
    return code, out, err


def values(out):
    return {symbol: line["value_si"] for symbol, line in json.loads(out).items()}


def test_oil_by_hand(capsys):
    """ASTM D1250-04 / ISO 91 by hand: a = 0.6278/851.3, dT = 5 K."""
    code, out, _ = run(capsys, *OIL, "--json")
    sheet = values(out)
    assert code == 0
    assert sheet["rho15"] == pytest.approx(851.3, rel=1e-12)
    assert sheet["rho"] == pytest.approx(848.1576, abs=1e-3)
    assert sheet["m"] == pytest.approx(262e-6 * sheet["rho"], rel=1e-12)
    assert sheet["W"] < sheet["m"]


def test_units_in_do_not_change_the_figures(capsys):
    _, metric, _ = run(capsys, *OIL, "--json")
    _, other, _ = run(
        capsys, "calc", "oil", "--volume", "0.262 L", "--density", "851.3 kg/m3",
        "--reference", "68 degF", "--bench", "293.15 K", "--json",
    )  # fmt: skip
    assert values(other) == pytest.approx(values(metric), rel=1e-9)


def test_a_bench_temperature_changes_the_jug_and_not_the_mass(capsys):
    _, cool, _ = run(capsys, *OIL, "--bench", "10 degC", "--json")
    _, warm, _ = run(capsys, *OIL, "--bench", "30 degC", "--json")
    assert values(cool)["m"] == values(warm)["m"]
    assert values(warm)["V_jug"] / values(cool)["V_jug"] == pytest.approx(1.015, abs=1e-3)


def test_the_working_names_formula_and_source(capsys):
    _, out, _ = run(capsys, *OIL, "--explain")
    assert "OIML D 28" in out
    assert "ASTM D1250-04" in out
    assert "m = V rho" in out


def test_inch_pound_display(capsys):
    _, out, _ = run(capsys, *OIL, "--inch-pound")
    assert "fl oz" in out
    assert "Scale must show" in out


def test_gas_scales_absolute_and_not_gauge_pressure(capsys):
    """Ideal gas: p2/p1 = T2/T1 on absolute pressure; scaling the gauge reading is the trap."""
    _, out, _ = run(capsys, "calc", "gas", "--charge", "15 bar", "--to", "40 degC", "--json")
    sheet = values(out)
    ideal = sheet["p1"] * 313.15 / 293.15
    trap = 15e5 * 313.15 / 293.15
    assert sheet["p2"] == pytest.approx(ideal, rel=5e-3)
    assert sheet["p2_gauge"] > trap + 0.05e5


def test_altitude_gives_the_barometer(capsys):
    """ISO 2533: 95 460.8 Pa at 500 m."""
    _, out, _ = run(
        capsys, "calc", "gas", "--charge", "15 bar", "--to", "20 degC", "--altitude", "500 m",
        "--json",
    )  # fmt: skip
    assert values(out)["p_amb"] == pytest.approx(95_460.8, abs=0.1)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((*OIL[:3], "262 bar", *OIL[4:]), "--volume: '262 bar' is not a volume"),
        (OIL[:4], "--density: is missing"),
        ((*OIL[:4], "--density", "3 g/mL"), "density"),
        (("calc", "gas", "--charge", "15 bar", "--to", "400 degC"), "--to: '400 degC' is out"),
        (("check-specification", "nowhere.toml"), "nowhere.toml: the file cannot be used"),
    ],
)
def test_bad_input_is_one_line_and_exit_2(capsys, arguments, words):
    code, out, err = run(capsys, *arguments)
    assert code == 2
    assert out == ""
    assert err.count("\n") == 1
    assert words in err


def test_a_specification_is_checked(capsys, tmp_path):
    path = files("resources") / "demo" / "specifications" / "mr-46-front.toml"
    good = tmp_path / "good.toml"
    good.write_text(path.read_text("utf-8"), "utf-8")
    code, out, _ = run(capsys, "check-specification", str(good))
    assert code == 0
    assert "247.8 to 290.5 mL" in out
    bad = tmp_path / "bad.toml"
    bad.write_text(path.read_text("utf-8").replace('"262 mL"', '"300 mL"'), "utf-8")
    code, _, err = run(capsys, "check-specification", str(bad))
    assert code == 2
    assert "outside the physical fill window" in err


@pytest.mark.parametrize("command", [("demo",), ()])
def test_without_a_display_one_line_says_what_to_do(capsys, monkeypatch, tmp_path, command):
    monkeypatch.setattr("sys.platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    if not command:
        save_settings(parse_settings(BENCH))
    code, out, err = run(capsys, *command)
    assert code == 2
    assert out == ""
    assert err.count("\n") == 1
    assert "There is no display here" in err


def test_a_bench_that_is_not_set_up_says_how(capsys, monkeypatch, tmp_path):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    monkeypatch.setattr("benchstation.app.display_problem", lambda: "There is no display here.")
    code, _, err = run(capsys)
    assert code == 2
    assert "benchstation demo" in err
    assert "set-up" in err


def test_records_that_do_not_verify_are_said(capsys, monkeypatch, tmp_path):
    path = tmp_path / "s.sqlite"
    with open_store(path, "b") as store:
        demo.found(store)
        entries = store.head()[0]
    code, out, _ = run(capsys, "verify", str(path))
    assert code == 0
    assert entries > 10
    assert f"sound, {entries} entries" in out
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("DROP TRIGGER journal_no_update")
        connection.execute("UPDATE journal SET person = 'nobody' WHERE seq = 3")
        connection.commit()
    code, _, err = run(capsys, "verify", str(path))
    assert code == 1
    assert "NOT SOUND" in err


def test_a_missing_or_foreign_file_of_records_is_worded(capsys, tmp_path):
    other = tmp_path / "other.sqlite"
    other.write_bytes(b"not a database at all, but long enough to look like a file" * 40)
    for path in (tmp_path / "missing.sqlite", other):
        code, _, err = run(capsys, "verify", str(path))
        assert code == 2
        assert err.count("\n") == 1


def test_a_profile_is_printed_to_be_copied(capsys):
    code, out, _ = run(capsys, "profiles", "scale-status-first")
    assert code == 0
    assert out == (files("resources") / "profiles" / "scale-status-first.toml").read_text("utf-8")
    code, _, said = run(capsys, "profiles", "no-such-profile")
    assert code == 2
    assert "there is no profile 'no-such-profile'" in said
    code, _, said = run(capsys, "profiles", "--profiles", "no-such-folder")
    assert code == 2
    assert "no-such-folder: there is no such folder" in said


def test_a_broken_profile_of_ones_own_hides_no_other(capsys, monkeypatch, tmp_path):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "broken.toml").write_text("id = 7", "utf-8")
    code, out, _ = run(capsys, "profiles")
    assert code == 0
    assert any(line.startswith("broken ") and "cannot be used" in line for line in out.splitlines())
    assert "scale-status-first" in out
    assert run(capsys, "profiles", "broken")[1] == "id = 7"


def test_profiles_are_listed_by_shape(capsys):
    code, out, _ = run(capsys, "profiles")
    assert code == 0
    assert sum("mass" in line for line in out.splitlines()) >= 4
    assert sum("pressure" in line for line in out.splitlines()) >= 2


def test_an_exported_record_is_held_against_the_journal_by_itself(capsys, tmp_path):
    bench = make_bench(tmp_path)
    bench.work_to(None)
    unit = bench.store.entries(kind="unit.filed")[0].event.unit_id
    filed = filed_record(bench.store, unit)
    exported = write_json(filed, tmp_path / "r.json")
    bench.store.close()
    records = str(tmp_path / "rebuilds.sqlite")
    code, out, _ = run(capsys, "verify", str(exported), "--journal", records)
    assert code == 0
    assert f"with the journal of bench-2 ({records}), entry {filed.entry.seq}" in out
    assert "QA said nothing since" in out
    code, _, err = run(capsys, "verify", str(exported))
    assert code == 1, "without a journal and without a proof nothing vouches for it"
    assert "NOT PROVEN" in err
    anchor = f"{filed.entry.seq}:{filed.entry.hash}"
    code, out, _ = run(capsys, "verify", records, "--anchor", anchor)
    assert code == 0
    assert out.splitlines()[0].endswith("and the anchor is in it")
    shown = f"{filed.entry.seq}:{filed.entry.hash[:16]}"
    for short in (shown, f"{shown}...", shown.upper()):
        code, out, _ = run(capsys, "verify", records, "--anchor", short)
        assert code == 0
        assert "the anchor is in it (the first 16 characters of its hash fit)" in out
    wrong = shown[:-1] + ("0" if shown[-1] != "0" else "1")
    code, _, err = run(capsys, "verify", records, "--anchor", wrong)
    assert code == 1
    assert "not the one that was noted elsewhere" in err
    other = anchor[:-1] + ("0" if anchor[-1] != "0" else "1")
    code, _, err = run(capsys, "verify", records, "--anchor", other)
    assert code == 1
    assert "NOT SOUND" in err
    exported.write_text(exported.read_text("utf-8").replace("MR-46", "MR-47").replace("T-1", "T-2"))
    code, _, err = run(capsys, "verify", str(exported))
    assert code == 1
    assert "changed after it was written" in err
    for none in ("12", shown[:-1], f"{anchor}0", f"{anchor[:-1]}g", f"-{anchor}"):
        code, _, err = run(capsys, "verify", records, f"--anchor={none}")
        assert code == 2
        assert "at least the first 16" in err


@pytest.mark.parametrize("content", [b"", b'{"form": 4, "rec', b"\xff\xfe"])
def test_a_record_that_was_cut_short_is_said(capsys, tmp_path, content):
    (tmp_path / "r.json").write_bytes(content)
    code, _, err = run(capsys, "verify", str(tmp_path / "r.json"))
    assert code == 2
    assert "no JSON, is damaged, or was cut short" in err


@pytest.mark.parametrize("name", ["nope.json", "nope.pdf", "nope.sqlite"])
def test_what_is_not_there_to_verify_is_said_and_so_is_a_folder(capsys, tmp_path, name):
    code, _, err = run(capsys, "verify", str(tmp_path / name))
    assert code == 2
    assert "there is no such file." in err
    (tmp_path / name).mkdir()
    code, _, err = run(capsys, "verify", str(tmp_path / name))
    assert code == 2
    assert "this is a folder" in err
    assert "one exported record (JSON or PDF)" in err


def test_a_record_with_its_hash_made_again_is_refused_without_an_anchor(capsys, tmp_path):
    bench = make_bench(tmp_path)
    bench.work_to(None)
    unit = bench.store.entries(kind="unit.filed")[0].event.unit_id
    exported = write_json(filed_record(bench.store, unit), tmp_path / "r.json")
    bench.store.close()
    data = json.loads(exported.read_text("utf-8"))
    data["record"]["oil"]["net_shown_kg"] += 0.005
    data["record_sha256"] = hashlib.sha256(rfc8785.dumps(data["record"])).hexdigest()
    exported.write_text(json.dumps(data), encoding="utf-8")
    for more in ((), ("--journal", str(tmp_path / "rebuilds.sqlite"))):
        code, _, err = run(capsys, "verify", str(exported), *more)
        assert code == 1
    assert "record.oil.net_shown_kg says" in err
