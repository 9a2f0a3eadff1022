"""A driver from elsewhere: checked by the kit, found when installed; a broken one harms nothing.

The fast form takes the packages' entry points from their files; the long one (``soak``) builds them
and installs them with the station into a fresh environment.
"""

import json
import os
import subprocess
import sys
import tomllib
from importlib.metadata import EntryPoint, EntryPoints
from pathlib import Path

import pytest

from benchstation.devices import registry
from benchstation.devices.discovery import rank
from benchstation.devices.profile import load_profile, profile_ids
from benchstation.devices.registry import GROUP, found_drivers, load_driver, problems
from benchstation.driver_api.testing import DriverConformance, read_transcripts

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
GOOD, BROKEN = HERE / "packet_gauge", HERE / "broken_gauge"
sys.path.insert(0, str(GOOD))
from packet_gauge_driver import PacketGaugeDriver  # noqa: E402

sys.path.remove(str(GOOD))
PROFILES = (GOOD / "profiles",)
PACKET = bytes.fromhex("a5 00 02 56 70 81")


class TestPacketGauge(DriverConformance):
    driver = PacketGaugeDriver
    options = {"channel": {"quantity": "pressure", "reference": "gauge"}}  # noqa: RUF012
    transcripts = read_transcripts(GOOD / "transcripts")
    checksummed = True


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
    assert "packet_gauge" in found_drivers()
    assert load_driver("packet_gauge").info.id == "packet_gauge"
    profile = load_profile("packet-gauge", PROFILES)
    (reading,) = profile.make_driver().feed(PACKET, 1.0)
    assert reading.value == 1_532_000.0
    known = [load_profile(name, PROFILES) for name in profile_ids(PROFILES)]
    assert rank(known, [PACKET] * 9)[0].profile.id == "packet-gauge"


def test_a_broken_one_is_listed_and_harms_nothing(installed):
    installed(GOOD, BROKEN)
    found = problems()
    assert "the licence file is missing" in found["broken_gauge"].what
    assert load_driver("packet_gauge").info.id == "packet_gauge"
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
reading, = load_profile("packet-gauge", extra).make_driver().feed({packet!r}, 1.0)
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
    probe = PROBE.format(profiles=str(PROFILES[0]), packet=PACKET)
    told = json.loads(step(python, "-I", "-c", probe))
    assert {"packet_gauge", "broken_gauge", "text_line"} <= set(told["found"])
    assert told["value"] == 1_532_000.0
    assert told["profiles"] == len(profile_ids())
    assert "the licence file is missing" in told["problems"]["broken_gauge"]
    assert any("text_line" in name for name in told["problems"])
    assert len(told["problems"]) == 2
