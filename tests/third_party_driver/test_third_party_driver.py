"""A driver from elsewhere: checked by the kit, found when installed; a broken one harms nothing.

The fast form takes the packages' entry points from their files; the long one (``soak``) builds them
and installs them with the station into a fresh environment.
"""

import json
import os
import re
import shlex
import subprocess
import sys
import time
import tomllib
from dataclasses import replace
from importlib.metadata import EntryPoint, EntryPoints
from pathlib import Path

import pytest

from benchstation.cli.main import main
from benchstation.devices import discovery, registry
from benchstation.devices.discovery import rank
from benchstation.devices.profile import load_profile, profile_ids
from benchstation.devices.registry import GROUP, found_drivers, load_driver, problems
from benchstation.driver_api import framing
from benchstation.driver_api.reading import FaultKind
from benchstation.driver_api.testing import DiffersError, parse_transcript, replay
from benchstation.link.reader import ANSWER_WAIT_S
from sample_devices.host import TcpHost

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
GOOD, BROKEN = HERE / "crate_scale", HERE / "broken_gauge"
sys.path.insert(0, str(GOOD))
from check_crate_scale import TestCrateScale  # noqa: E402 - collected here
from crate_scale import CrateScale  # noqa: E402

sys.path.remove(str(GOOD))
PROFILES = (GOOD / "profiles",)
HELP = ROOT / "resources" / "help" / "drivers.md"
FRAME = bytes.fromhex("a5 00 d2 04 00 00 3b 82")
"""123.4 g, steady."""


def entry_points_of(folder):
    project = tomllib.loads((folder / "pyproject.toml").read_text())["project"]
    return [
        EntryPoint(name, value, GROUP) for name, value in project["entry-points"][GROUP].items()
    ]


@pytest.fixture
def installed(monkeypatch):
    """Put packages beside the installed ones."""

    def install(*folders):
        here = list(registry.entry_points(group=GROUP))
        for folder in folders:
            monkeypatch.syspath_prepend(folder)
            here += entry_points_of(folder)
        monkeypatch.setattr(registry, "entry_points", lambda group: EntryPoints(here))

    return install


def test_it_is_found_and_reads(installed):
    installed(GOOD)
    assert "crate_scale" in found_drivers()
    assert load_driver("crate_scale").info.id == "crate_scale"
    profile = load_profile("crate-scale", PROFILES)
    (reading,) = profile.make_driver().feed(FRAME, 1.0)
    assert reading.value == pytest.approx(0.1234)
    known = [load_profile(name, PROFILES) for name in profile_ids(PROFILES)]
    assert rank(known, [FRAME] * 9)[0].profile.id == "crate-scale"


def test_the_help_shows_each_file_of_it_as_it_is():
    shown = re.findall(
        r"```(?:python|toml|transcript)\n(.*?)```", HELP.read_text("utf-8"), re.DOTALL
    )
    files = {path.read_text("utf-8") for path in GOOD.rglob("*.*") if path.suffix != ".pyc"}
    assert len(shown) == 5
    assert set(shown) == files


class Requested(CrateScale):
    """The same scale, were it one that waits for a byte and sends its net weight."""

    def poll(self):
        return b"\x05"

    def _item(self, frame, at):
        return replace(super()._item(frame, at), net=True)


def test_a_device_that_waits_for_a_request_is_written_down_as_the_help_shows():
    (steps,) = re.findall(r"```request\n(.*?)```", HELP.read_text("utf-8"), re.DOTALL)
    conversation = parse_transcript(steps)
    (reading,) = replay(conversation, Requested(TestCrateScale.options))
    assert reading.net
    with pytest.raises(DiffersError, match=r"line 1: sends None and not b'\\x05'"):
        replay(conversation, CrateScale(TestCrateScale.options))


def test_the_help_lists_what_a_driver_may_use():
    """Every kind of fault, checksum and framer by its name, and the time that an answer has."""
    told = HELP.read_text("utf-8")
    assert [kind.name for kind in FaultKind if f"{kind.name}`" not in told] == []
    assert [kind.value for kind in FaultKind if kind.value not in " ".join(told.split())] == []
    for name, (function, _) in framing.CHECKSUMS.items():
        assert f"| `{function.__name__}`, in a profile `{name}` |" in told
    framers = [name for name in vars(framing) if re.fullmatch(r"\w+Framer", name)]
    assert len(framers) == 3
    assert [name for name in framers if f"| `{name}(" not in told] == []
    assert f"An answer may take {ANSWER_WAIT_S:g} s." in told
    assert f"looks for a device, the station waits {discovery.ANSWER_WAIT_S:g} s." in told


class Sending:
    """The scale on its line: the same frame ten times a second."""

    def __init__(self):
        self.sent = 0

    def output(self, t):
        due = int(t * 10) - self.sent
        self.sent += due
        return FRAME * due

    def receive(self, data, t):
        return b""


def test_the_commands_of_the_help_say_what_they_should(installed, monkeypatch, capsys):
    installed(GOOD)
    monkeypatch.chdir(GOOD)
    begun = time.monotonic()
    line = TcpHost(Sending(), lambda: time.monotonic() - begun)
    commands = re.findall(r"^benchstation (.*)$", HELP.read_text("utf-8"), re.MULTILINE)
    said = []
    try:
        for command in commands:
            words = [line.url if word == "PORT" else word for word in shlex.split(command)]
            if "watch" in words:
                words += ["--seconds", "0.5"]
            assert main(words) == 0, command
            said.append(capsys.readouterr().out)
    finally:
        line.close()
    listed, tried, watched = said
    assert "driver crate_scale: Crate scale, frames of eight bytes" in listed
    assert "a5 00 d2 04 00 00 3b 82  123.4 g, steady" in tried
    assert "steps, 8 of them from the device: as written." in tried
    assert "reading 123.4 g steady" in watched


def test_a_broken_one_is_listed_and_harms_nothing(installed):
    installed(GOOD, BROKEN)
    found = problems()
    assert "the licence file is missing" in found["broken_gauge"].what
    assert load_driver("crate_scale").info.id == "crate_scale"
    for name in profile_ids():
        load_profile(name).make_driver()


def test_a_built_in_driver_cannot_be_replaced_by_a_name(installed):
    installed(BROKEN)
    assert load_driver("text_line").info.title == "Lines of text in fixed columns"
    found = problems()
    assert "text_line" in " ".join(found)
    assert any("already" in problem.what for problem in found.values())


PROBE = """
import json
from pathlib import Path
from benchstation.devices.profile import load_profile, profile_ids
from benchstation.devices.registry import found_drivers, problems
extra = [Path({profiles!r})]
reading, = load_profile("crate-scale", extra).make_driver().feed({frame!r}, 1.0)
for name in profile_ids():
    load_profile(name).make_driver()
print(json.dumps({{
    "found": sorted(found_drivers()),
    "problems": {{name: str(problem) for name, problem in problems().items()}},
    "value": reading.value,
    "profiles": len(profile_ids()),
}}))
"""


@pytest.mark.soak
@pytest.mark.timeout(900)
def test_built_and_installed_into_a_fresh_environment(tmp_path):
    """Wheels of the station and of both packages, in an environment that has nothing else."""
    # What the part of the station under test imports; the rest of its needs is large.
    needs = ["pydantic", "pyserial", "pymodbus", "pint", "flexcache", "numpy"]
    clean = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "PYTHONHOME")}

    def step(*words):
        done = subprocess.run(
            [str(word) for word in words], cwd=tmp_path, env=clean, capture_output=True, text=True
        )
        assert done.returncode == 0, done.stderr[-3000:]
        return done.stdout

    step(sys.executable, "-m", "venv", tmp_path / "fresh")
    python = tmp_path / "fresh" / ("Scripts" if os.name == "nt" else "bin") / "python"
    for folder in (ROOT, GOOD, BROKEN):
        source = tmp_path / "sources" / folder.name
        step(
            sys.executable, "-c",
            "import shutil, sys; shutil.copytree(sys.argv[1], sys.argv[2], ignore="
            "shutil.ignore_patterns('.*', 'build', '*.egg-info', '__pycache__', 'tests'))",
            folder, source,
        )  # fmt: skip
        step(python, "-m", "pip", "wheel", "-q", "--no-deps", "-w", tmp_path / "wheels", source)
    wheels = sorted((tmp_path / "wheels").glob("*.whl"))
    assert len(wheels) == 3
    step(python, "-m", "pip", "install", "-q", *needs)
    step(python, "-m", "pip", "install", "-q", "--no-deps", *wheels)
    probe = PROBE.format(profiles=str(PROFILES[0]), frame=FRAME)
    told = json.loads(step(python, "-I", "-c", probe))
    assert {"crate_scale", "broken_gauge", "text_line"} <= set(told["found"])
    assert told["value"] == pytest.approx(0.1234)
    assert told["profiles"] == len(profile_ids())
    assert "the licence file is missing" in told["problems"]["broken_gauge"]
    assert any("text_line" in name for name in told["problems"])
    assert len(told["problems"]) == 2
