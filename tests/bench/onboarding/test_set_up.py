"""Setting a bench up from one file: checked whole, journaled once, never edited."""

import re
import tomllib
from datetime import UTC, date, datetime
from importlib.resources import files

import pytest

from benchstation.bench.assembly import placed_last
from benchstation.bench.onboarding.set_up import check_instrument, read_set_up, write_set_up
from benchstation.bench.shop import shop_from
from benchstation.cli.main import main
from benchstation.config import set_up
from benchstation.config.set_up import SetUpError
from benchstation.config.settings import Settings, load_settings
from benchstation.domain.events import InstrumentRegistered, MaterialClosed, PersonEnrolled
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.materials import Sort, Standing
from benchstation.domain.people import Person, Role, check_pin
from benchstation.driver_api.errors import StationError
from benchstation.store.engine import open_store
from tests.set_up_hands import lead_at_terminal
from tests.stepped_bench import demo

FAMILY = "mr-46-front.toml"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "home"))
    text = set_up.example().replace("families = []", f'families = ["{FAMILY}"]')
    (tmp_path / "bench.toml").write_text(text, "utf-8")
    family = (files("resources") / "demo" / "specifications" / FAMILY).read_text("utf-8")
    (tmp_path / FAMILY).write_text(family, "utf-8")
    lead_at_terminal(monkeypatch)
    return tmp_path


def run(folder, *arguments: str) -> int:
    return main(["set-up", *arguments])


def store_of(folder):
    return open_store(folder / "home" / "data" / "rebuilds.sqlite", "bench-1", read_only=True)


def test_the_example_sets_a_bench_up(folder, capsys):
    assert run(folder, str(folder / "bench.toml")) == 0
    assert "new facts on record: 7" in capsys.readouterr().out
    with store_of(folder) as store:
        assert set(store.people()) == {"first", "second"}
        assert list(store.specifications()) == [("mr-46-front", 1)]
        scale = store.instruments()["scale-1"]
    assert scale.u_calibration == pytest.approx(3e-5)
    assert (folder / "home" / "settings.json").is_file()


def uncommented(text, first, last):
    """The example with some of its commented lines in force."""
    before, _, rest = text.partition(first)
    part, _, after = (first + rest).partition(last)
    part = "\n".join(line.removeprefix("# ") for line in (part + last).splitlines())
    return before.removesuffix("# ") + part + after


def test_the_lamp_and_feed_of_the_example_can_be_taken_as_they_stand(folder):
    text = (folder / "bench.toml").read_text("utf-8")
    text = uncommented(text, "feed_port = 47100", "without it")
    lines = uncommented(text, "[bench.lamp]", 'flash = ["warning", "alarm"] }')
    (folder / "bench.toml").write_text(lines, "utf-8")
    assert run(folder, str(folder / "bench.toml")) == 0
    settings = load_settings()
    assert settings.feed_port == 47100
    assert settings.lamp.rts.fail_safe == "off"
    assert settings.lamp.dtr.flash == ("warning", "alarm")
    commands = uncommented(text, "[bench.lamp]", '"/dev/ttyUSB2"')
    commands = uncommented(commands, "[bench.lamp.text]", r'"blue\r\n"')
    (folder / "bench.toml").write_text(commands, "utf-8")
    assert run(folder, str(folder / "bench.toml")) == 0
    assert load_settings().lamp.text.alarm == "red flash\r\n"


def test_only_a_hash_of_the_pin_is_kept(folder):
    run(folder, str(folder / "bench.toml"))
    with store_of(folder) as store:
        first = store.people()["first"]
    assert "135792" not in first.pin_hash
    assert check_pin(Person("first", "", frozenset({Role.TECHNICIAN}), first.pin_hash), "135792")
    kept = (folder / "home" / "data" / "rebuilds.sqlite").read_bytes()
    # Within a longer run of hexadecimal digits it is some hash.
    assert not re.search(rb"(?<![0-9a-f])135792(?![0-9a-f])", kept)


def test_a_second_run_adds_only_what_is_new(folder, capsys):
    run(folder, str(folder / "bench.toml"))
    text = (folder / "bench.toml").read_text("utf-8")
    (folder / "bench.toml").write_text(text.replace('"C-2"', '"C-3"'), "utf-8")
    run(folder, str(folder / "bench.toml"))
    assert "new facts on record: 1" in capsys.readouterr().out
    with store_of(folder) as store:
        assert store.instruments()["gauge-1"].certificate == "C-3"
        assert len(store.entries(kind=InstrumentRegistered.kind)) == 3
        assert len(store.entries(kind=PersonEnrolled.kind)) == 2


def with_all_materials(folder):
    """The example with its commented wrench and kit in force."""
    file = folder / "bench.toml"
    text = file.read_text("utf-8")
    text = uncommented(text, "[[wrenches]]", "laboratory")
    file.write_text(uncommented(text, "[[kits]]", "may be left out"), "utf-8")
    return file


def test_weights_wrenches_and_kits_of_the_example_can_be_chosen_at_once(folder, capsys):
    file = with_all_materials(folder)
    for facts in (9, 0):
        assert run(folder, str(file)) == 0
        assert f"new facts on record: {facts}" in capsys.readouterr().out
    with store_of(folder) as store:
        stock = shop_from(store, "Shop", "bench-1", {}).stock
    weight = stock.find(Sort.WEIGHT, "", "w-1")
    assert (weight.nominal_kg, weight.weight_class, weight.certificate) == (0.5, "F1", "C-3")
    day = date(2027, 3, 2)
    for sort, number, lot in (
        (Sort.WEIGHT, "", "W-1"),
        (Sort.WRENCH, "", "T-1"),
        (Sort.KIT, "K-46", "K-46-01"),
    ):
        assert list(stock.offered(sort, number, day)) == [lot]
        assert stock.standing(stock.find(sort, number, lot), day) is Standing.OPEN


def test_a_weight_calibrated_anew_is_a_new_fact_and_an_old_file_takes_nothing_back(folder, capsys):
    file = with_all_materials(folder)
    old = file.read_text("utf-8")
    before, _, weights = old.partition("[[weights]]")
    new = before + "[[weights]]" + weights.replace("until = 2027-03-02", "until = 2028-03-02", 1)
    older = before + "[[weights]]" + weights.replace("until = 2027-03-02", "until = 2026-03-02", 1)
    for text, facts in ((old, 9), (new, 1), (old, 0), (older, 0), (new, 0)):
        file.write_text(text, "utf-8")
        assert run(folder, str(file)) == 0
        assert f"new facts on record: {facts}" in capsys.readouterr().out
    with store_of(folder) as store:
        stock = shop_from(store, "Shop", "bench-1", {}).stock
    assert stock.find(Sort.WEIGHT, "", "W-1").until == "2028-03-02"


def test_a_withdrawn_kit_is_not_brought_back_by_the_file(folder, capsys):
    file = with_all_materials(folder)
    run(folder, str(file))
    with open_store(folder / "home" / "data" / "rebuilds.sqlite", "bench-1") as store:
        closed = MaterialClosed("kit", "K-46", "K-46-01", "withdrawn", "hard seals")
        store.append([closed], person="second", utc=datetime.now(UTC))
    capsys.readouterr()
    assert run(folder, str(file)) == 0
    assert "new facts on record: 0" in capsys.readouterr().out
    with store_of(folder) as store:
        stock = shop_from(store, "Shop", "bench-1", {}).stock
    kit = stock.find(Sort.KIT, "K-46", "K-46-01")
    assert stock.standing(kit, date(2026, 12, 1)) is Standing.WITHDRAWN


def test_a_lot_on_record_is_never_changed_by_a_file(folder, capsys):
    file = with_all_materials(folder)
    run(folder, str(file))
    text = file.read_text("utf-8")
    file.write_text(text.replace("delivery note 17", "delivery note 18"), "utf-8")
    assert run(folder, str(file)) == 2
    assert "never changed" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('class = "F1"', 'class = "F9"', "weights, W-1: the weight's class is missing"),
        ('nominal = "500 g"', 'nominal = "300 g"', "no weight of class F1"),
        ('nominal = "500 g"', 'nominal = "500"', "weights, W-1"),
        ('certificate = "C-4"', 'certificate = ""', "wrenches, T-1: the certificate is missing"),
        ('number = "K-46"', 'number = " "', "kits, K-46-01: the number is missing"),
        ("until = 2029-01-31", 'until = "soon"', "kits"),
        ("[[wrenches]]", "[[hammers]]", "hammers"),
        (
            "[[kits]]",
            '[[kits]]\nnumber = "K-46"\nlot = "k-46-01"\nname = "S"\nsource = "s"\n[[kits]]',
            "is there twice",
        ),
    ],
)
def test_a_material_is_refused_by_the_rules_of_receiving(folder, capsys, old, new, said):
    file = with_all_materials(folder)
    text = file.read_text("utf-8")
    assert old in text
    file.write_text(text.replace(old, new, 1), "utf-8")
    assert run(folder, str(file)) == 2
    assert said in capsys.readouterr().err
    assert not (folder / "home").exists()


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('profile = "scale-status-first"', 'profile = "no-such"', "no profile 'no-such'"),
        ('profile = "scale-status-first"', 'profile = "gauge-value-unit"', "is for pressure"),
        ('u = "0.03 g"', 'u = "0.03 h"', "is not a mass"),
        ('u = "0.03 g"', 'u = "30 mbar"', "is not a mass"),
        ('u = "0.03 g"', 'u = "0 g"', "greater than 0"),
        ('pin = "135792"', 'pin = "111111"', "too easy"),
        ('roles = ["technician"] ', 'roles = ["boss"] ', "roles"),
        ('density_15 = "0.8513 g/mL"', 'density_15 = "8.5 g/mL"', "density_15"),
        ('"fill hose" = "35 bar"', '"fill hose" = "-35 bar"', "path_ratings"),
        ("[bench]\n", "[bench\n", "Expected"),
        ('id = "second"', 'id = "first"', "two people have the id 'first'"),
        ("until = 2027-03-02", "until = 2026-03-01", "later than"),
        (f'"{FAMILY}"', '"missing.toml"', "cannot be read"),
        ('barometer_pa = "1013 hPa"', 'barometer_pa = "13 hPa"', "barometer_pa"),
    ],
)
def test_a_wrong_file_is_refused_whole(folder, capsys, old, new, said):
    text = (folder / "bench.toml").read_text("utf-8")
    assert old in text
    (folder / "bench.toml").write_text(text.replace(old, new, 1), "utf-8")
    assert run(folder, str(folder / "bench.toml")) == 2
    assert said in capsys.readouterr().err
    assert not (folder / "home").exists()


def test_a_fill_outside_its_window_is_refused(folder, capsys):
    family = (folder / FAMILY).read_text("utf-8")
    (folder / FAMILY).write_text(family.replace('volume = "262 mL"', 'volume = "295 mL"'), "utf-8")
    assert run(folder, str(folder / "bench.toml")) == 2
    assert "outside the physical fill window" in capsys.readouterr().err


def test_a_revision_on_record_is_never_edited(folder, capsys):
    run(folder, str(folder / "bench.toml"))
    family = (folder / FAMILY).read_text("utf-8")
    (folder / FAMILY).write_text(family.replace('"262 mL"', '"263 mL"'), "utf-8")
    assert run(folder, str(folder / "bench.toml")) == 2
    assert "higher revision" in capsys.readouterr().err
    (folder / FAMILY).write_text(
        family.replace('"262 mL"', '"263 mL"').replace("revision = 1", "revision = 2"), "utf-8"
    )
    assert run(folder, str(folder / "bench.toml")) == 0


def test_the_example_is_printed(capsys):
    assert main(["set-up", "--example"]) == 0
    assert "[instruments.scale]" in capsys.readouterr().out


def test_the_demo_pin_is_one_that_would_be_taken():
    assert demo.hash_pin(demo.PIN)


def test_an_instrument_that_comes_back_is_a_new_fact(folder, capsys):
    """Another one stood in its place meanwhile: the newest of a role is the one that is fitted."""
    file = folder / "bench.toml"
    text = file.read_text("utf-8")
    # Beside its registration: what stands at the bench now, and what no longer does.
    for words, facts in ((text, 7), (text.replace("scale-1", "scale-2"), 3), (text, 3), (text, 0)):
        file.write_text(words, "utf-8")
        assert run(folder, str(file)) == 0
        assert f"new facts on record: {facts}" in capsys.readouterr().out
    with store_of(folder) as store:
        assert [one.id for one in placed_last(store)] == ["scale-1", "gauge-1"]
        assert set(store.instruments()) == {"scale-1", "scale-2", "gauge-1"}


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"profile": "gauge-value-unit"}, "is for pressure"),
        ({"id": "a b"}, "id"),
        ({"url": ""}, "url"),
        ({"calibration": {"on": "2026-01-01"}}, "until"),
    ],
)
def test_an_instrument_alone_is_refused_by_the_same_rules(changed, said):
    good = {"id": "s", "title": "S", "profile": "scale-status-first", "url": "/dev/p1"}
    settings, registered = check_instrument(InstrumentRole.SCALE, good, "Here")
    assert (settings.id, registered.role) == ("s", "scale")
    with pytest.raises(StationError, match=said):
        check_instrument(InstrumentRole.SCALE, good | changed, "Here")


SECOND_SCALE = """
[[instruments.scale]]
id = "scale-2"
title = "Floor scale"
profile = "scale-status-word"
url = "/dev/ttyUSB5"
use = "heavy units"

[[instruments.thermometer]]
id = "thermometer-1"
title = "Bench thermometer"
profile = "air-thermometer"
url = "/dev/ttyUSB6"
"""
AIR_THERMOMETER = """
id = "air-thermometer"
title = "Air thermometer"
kind = "temperature"
driver = "text_line"
[rate]
expected_hz = 1
[options]
units = { C = { factor = 1.0, offset = 273.15 } }
fields = [
  { kind = "sign", plus = "+", minus = "-" },
  { kind = "number", width = 6, pad = "zero" },
  { kind = "literal", text = " " },
  { kind = "unit", width = 1, align = "left" },
]
"""


def several(folder):
    """The example with a second scale and a thermometer; each role once is written as before."""
    text = (folder / "bench.toml").read_text("utf-8")
    one = text.replace("[instruments.scale]", "[[instruments.scale]]")
    own = folder / "home" / "profiles"
    own.mkdir(parents=True)
    (own / "air-thermometer.toml").write_text(AIR_THERMOMETER, "utf-8")
    (folder / "bench.toml").write_text(one + SECOND_SCALE, "utf-8")


def test_a_file_may_have_several_of_a_role_and_other_roles(folder, capsys):
    several(folder)
    for facts in (9, 0):
        assert run(folder, str(folder / "bench.toml")) == 0
        assert f"new facts on record: {facts}" in capsys.readouterr().out
    listed = [(i.role, i.id, i.use) for i in load_settings().instruments]
    assert listed == [
        ("scale", "scale-1", ""),
        ("scale", "scale-2", "heavy units"),
        ("gauge", "gauge-1", ""),
        ("thermometer", "thermometer-1", ""),
    ]
    with store_of(folder) as store:
        roles = {name: i.role for name, i in store.instruments().items()}
    assert roles["thermometer-1"] == "thermometer"
    assert roles["scale-2"] == "scale"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('id = "scale-2"', 'id = "gauge-1"', "two instruments have the id 'gauge-1'"),
        ("[[instruments.thermometer]]", "[[instruments.barometer]]", "is for temperature"),
        ("[[instruments.thermometer]]", "[[instruments.kettle]]", "kettle"),
        ("[instruments.gauge", "[instruments.hygrometer", "needs"),
    ],
)
def test_several_are_refused_by_the_same_rules(folder, capsys, old, new, said):
    several(folder)
    text = (folder / "bench.toml").read_text("utf-8")
    (folder / "bench.toml").write_text(text.replace(old, new), "utf-8")
    assert run(folder, str(folder / "bench.toml")) == 2
    assert said in capsys.readouterr().err


def test_an_absolute_transmitter_is_no_gauge_of_the_path(folder, capsys):
    """It would show the air as pressure in the line, and every charge a bar too high."""
    own = folder / "home" / "profiles"
    own.mkdir(parents=True)
    text = (files("resources") / "profiles" / "gauge-value-unit.toml").read_text("utf-8")
    text = text.replace('"gauge-value-unit"', '"absolute"').replace(
        'reference = "gauge"', 'reference = "absolute"'
    )
    (own / "absolute.toml").write_text(text, "utf-8")
    example = (folder / "bench.toml").read_text("utf-8").replace('"gauge-value-unit"', '"absolute"')
    (folder / "bench.toml").write_text(example, "utf-8")
    assert run(folder, str(folder / "bench.toml")) == 2
    assert "is for absolute pressure" in capsys.readouterr().err


def test_what_was_changed_at_the_bench_is_not_taken_back_by_the_old_file(tmp_path):
    file = tmp_path / "bench.toml"
    file.write_text(set_up.example(), "utf-8")
    settings, events = read_set_up(file)
    assert settings.sign_out_after_s == 600.0
    with open_store(tmp_path / "s.sqlite", "bench-1") as store:
        write_set_up(store, events)
        promoted = PersonEnrolled("first", "First Technician", ("technician", "lead"), "hash")
        store.append([promoted], person="second", utc=datetime.now(UTC))
        assert write_set_up(store, read_set_up(file)[1]) == 0
        assert store.people()["first"] == promoted


def test_a_file_with_one_part_changes_that_part_of_a_bench_that_is_set_up(folder, capsys):
    file, part = folder / "bench.toml", folder / "part.toml"
    assert run(folder, str(file)) == 0
    part.write_text('[bench]\naltitude_m = "640 m"\n', "utf-8")
    before = load_settings()
    assert run(folder, str(part)) == 0
    assert "new facts on record: 2" in capsys.readouterr().out
    assert load_settings() == before.model_copy(update={"altitude_m": 640.0, "barometer_pa": None})


def test_an_instrument_of_another_role_comes_beside_those_that_are_there(tmp_path):
    table = tomllib.loads(set_up.example())
    known, _ = set_up.check_set_up(table, "all")
    lamp = {"id": "t-1", "title": "Wall", "profile": "gauge-value-unit", "url": "COM9"}
    settings, _ = set_up.check_set_up({"instruments": {"thermometer": lamp}}, "one", known=known)
    assert {i.id for i in settings.instruments} == {"t-1", *(i.id for i in known.instruments)}
    assert settings.path_ratings == known.path_ratings


@pytest.mark.parametrize("table", [{}, {"bench": {"altitude_m": 640}}])
def test_a_part_alone_founds_no_bench(table):
    for known in (None, Settings()):
        with pytest.raises(SetUpError, match="people"):
            set_up.check_set_up(table, "part", known=known)


def test_a_calibration_that_was_signed_at_the_bench_is_not_taken_back_by_the_old_file(tmp_path):
    def scale(on, certificate, serial="S-1"):
        return InstrumentRegistered(
            "scale-1", "scale", "Scale", "p", serial, 1.0, 0.0, 3e-5, on, "2027-03-02", certificate
        )

    of_file, signed = scale("2025-03-02", "C-25"), scale("2026-03-02", "C-26")
    with open_store(tmp_path / "s.sqlite", "bench-1") as store:
        write_set_up(store, [of_file])
        store.append([signed], person="lead", utc=datetime.now(UTC))
        assert write_set_up(store, [of_file]) == 0
        assert store.instruments()["scale-1"] == signed
        # Another instrument of that name is no older calibration of this one.
        assert write_set_up(store, [scale("2025-01-01", "C-9", "S-2")]) == 1
