"""Settings: units at the edge, worded refusals, and a file that is never half written."""

import json
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.config import settings as module
from benchstation.config.settings import (
    Settings,
    SettingsError,
    default_data_dir,
    default_settings_path,
    load_settings,
    parse_settings,
    save_settings,
)
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.quantities.units import UnitSystem

FULL = {
    "bench_id": "bench-2",
    "shop": "Example shop",
    "altitude_m": "1000 ft",
    "bench_temperature_k": "68 °F",
    "path_ratings": {"hose": "40 bar", "fill tool": "600 psi", "transducer": 6e6},
    "instruments": [
        {"id": "scale-1", "role": "scale", "profile": "scale-status-first", "url": "/dev/ttyUSB0"},
        {
            "id": "gauge-1",
            "role": "gauge",
            "profile": "pressure-registers",
            "url": "socket://10.0.0.7:502",
        },
    ],
    "unit_system": "inch-pound",
}
SCALE, GAUGE = FULL["instruments"]
OTHER_GAUGE = GAUGE | {"id": "gauge-2"}
ONE = {"id": "a", "profile": "scale-status-first", "url": "COM3"}
FORM_1 = Path(__file__).parent / "form_1"


def test_quantities_are_read_in_any_unit_and_kept_in_si():
    settings = parse_settings(FULL)
    assert settings.altitude_m == pytest.approx(304.8)
    assert settings.bench_temperature_k == pytest.approx(293.15)
    assert settings.path_ratings["hose"] == 4e6
    assert settings.path_ratings["fill tool"] == pytest.approx(4_136_854.376, rel=1e-9)
    assert settings.path_ratings["transducer"] == 6e6
    assert settings.unit_system is UnitSystem.INCH_POUND
    assert settings.of_role(InstrumentRole.GAUGE)[0].profile == "pressure-registers"


def test_what_is_saved_is_what_is_loaded(tmp_path):
    settings = parse_settings({**FULL, "data_dir": str(tmp_path / "data")})
    path = save_settings(settings, tmp_path / "deep" / "settings.json")
    assert load_settings(path) == settings
    assert [entry.name for entry in path.parent.iterdir()] == ["settings.json"]


@given(st.floats(50_000, 110_000), st.floats(1e3, 1e8))
def test_numbers_survive_the_file_to_the_last_bit(barometer_pa, rating_pa):
    settings = Settings(barometer_pa=barometer_pa, path_ratings={"hose": rating_pa})
    assert Settings.model_validate_json(settings.model_dump_json()) == settings


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"path_ratings": {"hose": "40"}}, r"path_ratings.hose: .*no unit"),
        ({"path_ratings": {"hose": "40 barg"}}, "belongs to the field"),
        ({"path_ratings": {"hose": -1}}, r"path_ratings.hose"),
        ({"path_ratings": {"hose": True}}, "not a number"),
        ({"path_ratings": {"hose": float("nan")}}, r"path_ratings.hose"),
        ({"altitude_m": "20 km"}, "altitude_m"),
        ({"altitude_m": 100, "barometer_pa": 1e5}, "not both"),
        ({"barometer_pa": "1 psi"}, "barometer_pa"),
        ({"bench_temperature_k": 20}, "bench_temperature_k"),
        ({"bench_id": "../up"}, "bench_id"),
        ({"data_dir": "somewhere"}, "full path"),
        ({"photo_folder": "camera"}, "full path"),
        ({"colour": "blue"}, "colour"),
        ({"instruments": [SCALE | {"role": "kettle"}]}, "entry 1, role"),
        ({"instruments": [SCALE | {"use": "x" * 201}]}, "entry 1, use"),
        ({"instruments": [SCALE, SCALE]}, "same id"),
        ({"instruments": [SCALE, GAUGE | {"id": "SCALE-1"}]}, "same id"),
        ({"instruments": [GAUGE, OTHER_GAUGE]}, "path_gauges must name which of gauge-1 and"),
        ({"instruments": [GAUGE], "path_gauges": ["gauge-9"]}, "no gauge 'gauge-9'"),
        ({"instruments": [SCALE], "path_gauges": ["scale-1"]}, "no gauge 'scale-1'"),
        ({"instruments": [GAUGE], "path_gauges": ["gauge-1", "gauge-1"]}, "twice"),
    ],
)
def test_what_is_out_of_range_is_refused_by_the_name_of_its_field(change, words):
    with pytest.raises(SettingsError, match=words) as caught:
        parse_settings(change)
    assert caught.value.advice


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"{", "not JSON"),
        (b"\xff\xfe", "not UTF-8 text"),
        (b"[1]", "not a JSON object"),
        (b"[" * 100_000, "not JSON"),
        (b'{"version": 3}', "newer version"),
        (b" " * 1_000_001, "too large"),
    ],
)
def test_a_damaged_file_is_refused_in_words_and_left_alone(tmp_path, content, words):
    path = tmp_path / "settings.json"
    path.write_bytes(content)
    with pytest.raises(SettingsError, match=words):
        load_settings(path)
    assert path.read_bytes() == content


def test_no_file_gives_the_defaults(tmp_path):
    assert load_settings(tmp_path / "none.json") == Settings()


def test_a_folder_in_place_of_the_file_is_worded(tmp_path):
    with pytest.raises(SettingsError, match="cannot be read"):
        load_settings(tmp_path)


def test_a_failed_save_keeps_the_old_file_and_leaves_no_litter(tmp_path, monkeypatch):
    path = save_settings(Settings(shop="before"), tmp_path / "settings.json")

    def full_disk(descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(module.os, "fsync", full_disk)
    with pytest.raises(SettingsError, match="old ones stay in force"):
        save_settings(Settings(shop="after"), path)
    assert load_settings(path).shop == "before"
    assert [entry.name for entry in tmp_path.iterdir()] == ["settings.json"]


def test_one_variable_moves_everything(tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    assert default_settings_path() == tmp_path / "settings.json"
    assert default_data_dir() == tmp_path / "data" == Settings().data_path
    save_settings(Settings(shop="here"))
    assert json.loads((tmp_path / "settings.json").read_text("utf-8"))["shop"] == "here"
    assert load_settings().shop == "here"


def test_without_the_variable_the_system_says_where(monkeypatch):
    monkeypatch.delenv("BENCHSTATION_HOME", raising=False)
    assert default_settings_path().is_absolute()
    assert "benchstation" in default_data_dir().parts


def test_a_home_sign_is_understood():
    assert parse_settings({"data_dir": "~/bench"}).data_path == Path(os.path.expanduser("~/bench"))


def test_the_time_out_may_be_a_quantity_and_off():
    assert parse_settings({}).sign_out_after_s == 600.0
    assert parse_settings({"sign_out_after_s": "5 min"}).sign_out_after_s == 300.0
    assert parse_settings({"sign_out_after_s": 0}).sign_out_after_s == 0
    with pytest.raises(SettingsError, match="sign_out_after_s"):
        parse_settings({"sign_out_after_s": "-1 s"})


@pytest.mark.parametrize("percent", [100, 115, 130, 150])
def test_the_text_size_is_one_of_those_offered(percent):
    assert parse_settings({"text_scale": percent}).text_scale == percent


@pytest.mark.parametrize("wrong", [90, 125, 1.5, "large", None])
def test_another_text_size_is_refused(wrong):
    with pytest.raises(SettingsError, match="text_scale"):
        parse_settings({"text_scale": wrong})


@pytest.mark.parametrize("key", ["F13", "", "Ctrl+F11", "Space", "b"])
def test_the_pedals_key_is_the_name_of_a_key_or_nothing(key):
    assert parse_settings({"pedal_key": key}).pedal_key == key


@pytest.mark.parametrize("wrong", ["F13 ", "<b>", "Ctrl+;", "x" * 31, 13])
def test_what_is_no_name_of_a_key_is_refused(wrong):
    with pytest.raises(SettingsError, match="pedal_key"):
        parse_settings({"pedal_key": wrong})


def test_a_bench_has_usual_text_and_the_usual_pedal():
    settings = Settings()
    assert (settings.text_scale, settings.pedal_key) == (100, "F13")


# --- instruments, and files of an older form -----------------------------------------------------


def test_a_bench_has_any_number_of_instruments_of_each_role():
    thermometers = [
        {"id": f"t-{use}", "role": "thermometer", "profile": "p", "url": f"/dev/{use}", "use": use}
        for use in ("air", "unit")
    ]
    coarse = SCALE | {"id": "scale-2", "url": "/dev/ttyUSB7", "use": "heavy units"}
    settings = parse_settings(
        {
            "instruments": [coarse, *thermometers, GAUGE, SCALE, OTHER_GAUGE],
            "path_gauges": ["gauge-2", "gauge-1"],
        }
    )
    assert [i.id for i in settings.of_role(InstrumentRole.SCALE)] == ["scale-2", "scale-1"]
    assert [i.use for i in settings.of_role(InstrumentRole.THERMOMETER)] == ["air", "unit"]
    assert [i.id for i in settings.gauges_in_path] == ["gauge-2", "gauge-1"]
    assert settings.of_role(InstrumentRole.BAROMETER) == ()


def test_the_only_gauge_is_in_the_path_unsaid():
    assert [i.id for i in parse_settings(FULL).gauges_in_path] == ["gauge-1"]
    assert parse_settings({"instruments": [SCALE]}).gauges_in_path == ()


def test_an_instrument_comes_in_place_of_another_or_beside_it():
    before = parse_settings({"instruments": [SCALE, GAUGE]})
    second = before.instruments[1].model_copy(update={"id": "gauge-2", "url": "/dev/p9"})
    beside = before.with_instrument(second)
    assert [i.id for i in beside.instruments] == ["scale-1", "gauge-1", "gauge-2"]
    assert beside.path_gauges == ("gauge-1", "gauge-2")
    third = second.model_copy(update={"id": "gauge-3"})
    exchanged = beside.with_instrument(third, "gauge-1")
    assert [i.id for i in exchanged.instruments] == ["scale-1", "gauge-3", "gauge-2"]
    assert exchanged.path_gauges == ("gauge-3", "gauge-2")
    scale = before.instruments[0].model_copy(update={"id": "scale-2"})
    assert beside.with_instrument(scale).path_gauges == beside.path_gauges


@pytest.mark.parametrize(
    ("name", "instruments"),
    [
        ("full", [("scale", "scale-3", "S-20418"), ("gauge", "gauge-1", "")]),
        ("scale_alone", [("scale", "scale-3", "S-20418")]),
        ("defaults", []),
        ("by_hand", [("gauge", "g", ""), ("scale", "s", "")]),
    ],
)
def test_a_file_of_form_1_is_upgraded_when_read_and_rewritten_only_when_saved(
    tmp_path, name, instruments
):
    path = tmp_path / "settings.json"
    written = (FORM_1 / f"{name}.json").read_bytes()
    path.write_bytes(written)
    settings = load_settings(path)
    assert [(i.role, i.id, i.serial) for i in settings.instruments] == instruments
    assert path.read_bytes() == written
    old = {k: v for k, v in json.loads(written).items() if k not in ("version", "instruments")}
    again = json.loads(save_settings(settings, path).read_text("utf-8"))
    assert again["version"] == 2
    assert load_settings(path) == settings
    if name != "by_hand":  # that one has quantities with units, which are kept in SI
        assert {name: again[name] for name in old} == old


@pytest.mark.parametrize(
    ("instruments", "words"),
    [
        ({"kettle": ONE}, "entry 1, role: must be"),
        ({"scale": "COM3"}, "entry 1"),
        ({"scale": ONE, "gauge": ONE}, "same id"),
        ("COM3", "instruments"),
    ],
)
def test_what_is_wrong_in_a_file_of_form_1_is_refused_by_name(tmp_path, instruments, words):
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"version": 1, "instruments": instruments}), "utf-8")
    with pytest.raises(SettingsError, match=words):
        load_settings(path)


@pytest.mark.parametrize("version", [0, -1, "2", None, 1.5])
def test_a_version_that_was_never_written_is_refused(tmp_path, version):
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"version": version}), "utf-8")
    with pytest.raises(SettingsError, match="version"):
        load_settings(path)


def test_when_a_limit_is_heard_again_is_set_within_bounds():
    usual = parse_settings({})
    assert (usual.alarm_again_rise, usual.alarm_again_after_s) == (0.05, 60.0)
    changed = parse_settings({"alarm_again_rise": 0.1, "alarm_again_after_s": "5 min"})
    assert (changed.alarm_again_rise, changed.alarm_again_after_s) == (0.1, 300.0)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("alarm_again_rise", 0),
        ("alarm_again_rise", 0.009),
        ("alarm_again_rise", 0.11),
        ("alarm_again_rise", "nan"),
        ("alarm_again_after_s", 0),
        ("alarm_again_after_s", "9 s"),
        ("alarm_again_after_s", "6 min"),
        ("alarm_again_after_s", float("inf")),
    ],
)
def test_nobody_switches_off_that_a_limit_is_heard_again(name, value):
    with pytest.raises(SettingsError, match=name):
        parse_settings({name: value})
