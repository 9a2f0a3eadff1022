"""An entry in the applications menu: its keys, its quotes, where it is written."""

import configparser
import re
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from importlib.resources import files
from pathlib import Path

import pytest

from benchstation.cli import desktop_entry
from benchstation.cli.main import main
from benchstation.demo.this_program import command

ICON = "icons/hicolor/scalable/apps/benchstation.svg"
ENTRY = "applications/benchstation.desktop"


@pytest.fixture
def data(tmp_path, monkeypatch):
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    return tmp_path


def read(text: str) -> dict[str, str]:
    parser = configparser.RawConfigParser()
    parser.optionxform = str
    parser.read_string(text)
    assert parser.sections() == ["Desktop Entry"]
    return dict(parser["Desktop Entry"])


def said_by(value: str) -> list[str]:
    """Return the words of ``Exec`` as the specification has a desktop read them."""
    once = value.replace("\\\\", "\\").replace("%%", "%")
    quoted = re.findall(r'"((?:[^"\\]|\\.)*)"', once)
    return [re.sub(r"\\(.)", r"\1", word) for word in quoted]


def test_the_command_writes_entry_and_icon_and_removes_them(data, capsys):
    assert main(["desktop-entry"]) == 0
    assert capsys.readouterr().out.splitlines() == [str(data / ENTRY), str(data / ICON)]
    assert (data / ICON).read_bytes() == (files("resources") / "icon.svg").read_bytes()
    assert main(["desktop-entry", "--remove"]) == 0
    assert not (data / ENTRY).exists()
    assert not (data / ICON).exists()
    assert main(["desktop-entry", "--remove"]) == 0


def test_the_keys_are_those_that_an_application_needs():
    entry = read(desktop_entry.entry_text(["/opt/b/benchstation"]))
    assert entry["Type"] == "Application"
    assert entry["Exec"] == '"/opt/b/benchstation"'
    assert entry["Terminal"] == "false"
    # What the window says of itself, so that both are one in the taskbar.
    assert entry["Icon"] == entry["StartupWMClass"] == "benchstation"
    for key in ("Categories", "Keywords"):
        assert entry[key].endswith(";")


@pytest.mark.parametrize(
    "path",
    ["/home/a b/bin/x", '/a"b/x', "/a$HOME/`x`", "/a\\b/x", "/50%/x", "/a'b/ümlaut", "/a\\\\b"],
)
def test_a_path_is_read_back_as_it_is(path):
    entry = read(desktop_entry.entry_text([path, "-m", "benchstation"]))
    assert said_by(entry["Exec"]) == [path, "-m", "benchstation"]


def test_a_path_that_breaks_a_line_is_refused():
    with pytest.raises(desktop_entry.StationError, match="no menu entry can name"):
        desktop_entry.entry_text(["/a\nExec=/b"])


def test_a_relative_data_folder_is_ignored(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_DATA_HOME", "here")
    monkeypatch.setattr("pathlib.Path.home", lambda: tmp_path)
    assert desktop_entry.data_folder() == tmp_path / ".local" / "share"


@pytest.mark.parametrize("system", ["win32", "darwin"])
def test_other_systems_are_told_what_to_do_instead(system, data, monkeypatch, capsys):
    monkeypatch.setattr("sys.platform", system)
    assert main(["desktop-entry"]) == 2
    assert "shortcut" in capsys.readouterr().err
    assert list(data.iterdir()) == []


@pytest.mark.skipif(not shutil.which("desktop-file-validate"), reason="its validator is not here")
def test_the_validator_of_the_specification_finds_nothing(data, tmp_path):
    entry, _ = desktop_entry.write_entry()
    done = subprocess.run(["desktop-file-validate", entry], capture_output=True, text=True)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


def test_the_icon_has_its_edges_on_sixteenths():
    """So that it is sharp at 16 px."""
    root = ET.fromstring((files("resources") / "icon.svg").read_text("utf-8"))
    assert root.get("viewBox") == "0 0 64 64"
    shapes = [one for one in root.iter() if one.tag.endswith(("rect", "path"))]
    assert len(shapes) >= 4
    for shape in shapes:
        given = " ".join(shape.get(name, "") for name in ("x", "y", "width", "height", "d"))
        numbers = [int(number) for number in re.findall(r"-?\d+", given)]
        assert [number for number in numbers if number % 4] == []


def test_a_menu_starts_the_installed_script(monkeypatch, tmp_path):
    monkeypatch.setattr("sysconfig.get_path", lambda name: str(tmp_path / name))
    assert desktop_entry.launcher() == command()
    script = tmp_path / "scripts" / "benchstation"
    script.parent.mkdir()
    script.touch()
    assert desktop_entry.launcher() == [str(Path(script))]


def test_a_menu_starts_a_bundle_itself(monkeypatch):
    monkeypatch.setattr(sys, "frozen", True, raising=False)
    assert desktop_entry.launcher() == [sys.executable]
