"""Drivers by entry point: found without importing, and a broken one harms nothing."""

import sys
from importlib.metadata import EntryPoint, EntryPoints

import pytest

from benchstation.devices import registry
from benchstation.devices.registry import GROUP, found_drivers, load_driver, problems
from benchstation.driver_api.contract import API_VERSION, Driver
from benchstation.driver_api.errors import DriverError


@pytest.fixture
def entries(monkeypatch, tmp_path):
    """Put entry points beside the installed ones; their modules come from ``tmp_path``."""
    monkeypatch.syspath_prepend(tmp_path)
    installed = list(found_drivers().values())

    def install(**sources):
        extra = []
        for name, source in sources.items():
            (tmp_path / f"driver_{name}.py").write_text(source)
            extra.append(EntryPoint(name, f"driver_{name}:Made", GROUP))
        extra.append(EntryPoint("absent", "driver_absent:Made", GROUP))
        monkeypatch.setattr(registry, "entry_points", lambda group: EntryPoints(installed + extra))

    yield install
    for name in [name for name in sys.modules if name.startswith("driver_")]:
        del sys.modules[name]


SOUND = """
from benchstation.driver_api.contract import Driver, DriverInfo
class Made(Driver):
    info = DriverInfo("sound", "Sound", ())
    def __init__(self, options): pass
    def feed(self, data, at): return []
    def reset(self): pass
"""
BROKEN = {
    "raises": "raise RuntimeError('no licence')",
    "exits": "import sys; sys.exit(3)",
    "nothing": "Made = 7",
    "stranger": "class Made: pass",
    "instance": SOUND + "\nMade = Made({})",
    "spelling": "Make = 1",
    "syntax": "def",
    "newer": SOUND.replace('"Sound", ()', '"Sound", (), api_version=99'),
    "nameless": SOUND.replace("info =", "other ="),
}


def test_built_in_drivers_come_in_by_entry_point():
    assert {"text_line", "modbus_registers", "scpi_query", "current_loop"} <= set(found_drivers())
    for name in found_drivers():
        loaded = load_driver(name)
        assert issubclass(loaded, Driver)
        assert loaded.info.id == name


def test_finding_imports_nothing(entries):
    entries(raises=BROKEN["raises"])
    assert {"raises", "absent", "text_line"} <= set(found_drivers())
    assert "driver_raises" not in sys.modules


def test_a_driver_from_elsewhere(entries):
    entries(sound=SOUND)
    assert load_driver("sound").info.title == "Sound"


@pytest.mark.parametrize("version", range(1, API_VERSION + 1))
def test_a_driver_of_each_version_of_the_contract_is_taken(entries, version):
    entries(sound=SOUND.replace('"Sound", ()', f'"Sound", (), api_version={version}'))
    assert load_driver("sound").info.api_version == version


@pytest.mark.parametrize("version", [0, API_VERSION + 1, "1", None])
def test_a_driver_of_no_version_of_the_contract_is_refused(entries, version):
    entries(sound=SOUND.replace('"Sound", ()', f'"Sound", (), api_version={version!r}'))
    with pytest.raises(DriverError, match=f"made for version {version}"):
        load_driver("sound")


@pytest.mark.parametrize("name", [*BROKEN, "absent"])
def test_a_broken_driver_is_worded_and_the_others_work(entries, name):
    entries(**BROKEN)
    with pytest.raises(DriverError, match=name) as refused:
        load_driver(name)
    assert refused.value.advice
    assert load_driver("text_line").info.id == "text_line"


def test_an_unknown_driver_is_refused_with_those_there_are():
    with pytest.raises(DriverError, match="no driver 'telepathy'") as refused:
        load_driver("telepathy")
    assert "current_loop, modbus_registers, scpi_query, text_line" in refused.value.advice


def test_problems_are_listed_and_sound_drivers_are_none(entries):
    entries(sound=SOUND, raises=BROKEN["raises"], stranger=BROKEN["stranger"])
    found = problems()
    assert set(found) == {"raises", "stranger", "absent"}
    assert "no licence" in found["raises"].what
    assert all(problem.advice for problem in found.values())


def test_this_installation_has_no_problems():
    assert problems() == {}
