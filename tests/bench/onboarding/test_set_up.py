"""Setting a bench up from one file: checked whole, journaled once, never edited."""

from datetime import UTC, datetime

import pytest

from benchstation.bench.assembly import fitted_now
from benchstation.bench.onboarding.set_up import check_instrument, read_set_up, write_set_up
from benchstation.cli.main import main
from benchstation.config import set_up
from benchstation.config.settings import load_settings
from benchstation.domain.events import InstrumentRegistered, PersonEnrolled
from benchstation.domain.people import Person, Role, check_pin
from benchstation.driver_api.errors import StationError
from benchstation.store.engine import open_store
from tests.stepped_bench import demo

FAMILY = "mr-46-front.toml"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path / "home"))
    text = set_up.example().replace("families = []", f'families = ["{FAMILY}"]')
    (tmp_path / "bench.toml").write_text(text, "utf-8")
    from importlib.resources import files

    family = (files("resources") / "demo" / "specifications" / FAMILY).read_text("utf-8")
    (tmp_path / FAMILY).write_text(family, "utf-8")
    return tmp_path


def run(folder, *arguments: str) -> int:
    return main(["set-up", *arguments])


def store_of(folder):
    return open_store(folder / "home" / "data" / "rebuilds.sqlite", "bench-1", read_only=True)


def test_the_example_sets_a_bench_up(folder, capsys):
    assert run(folder, str(folder / "bench.toml")) == 0
    assert "new facts on record: 6" in capsys.readouterr().out
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
    assert b"135792" not in (folder / "home" / "data" / "rebuilds.sqlite").read_bytes()


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


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('profile = "scale-status-first"', 'profile = "no-such"', "no profile 'no-such'"),
        ('profile = "scale-status-first"', 'profile = "gauge-value-unit"', "is for pressure"),
        ('u = "0.03 g"', 'u = "0.03 h"', "neither a mass nor a pressure"),
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
    for words, facts in ((text, 6), (text.replace("scale-1", "scale-2"), 1), (text, 1), (text, 0)):
        file.write_text(words, "utf-8")
        assert run(folder, str(file)) == 0
        assert f"new facts on record: {facts}" in capsys.readouterr().out
    with store_of(folder) as store:
        assert fitted_now(store, {})["scale"].instrument_id == "scale-1"
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
    settings, registered = check_instrument("scale", good, "Here")
    assert (settings.id, registered.role) == ("s", "scale")
    with pytest.raises(StationError, match=said):
        check_instrument("scale", good | changed, "Here")


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
