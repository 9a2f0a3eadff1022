"""The bundled program stands on its own: it is built, and run where no Python is found."""

import importlib.util
import json
import os
import shutil
import subprocess

import pytest

from benchstation import __version__
from tests.bundle.build import build

pytestmark = [
    pytest.mark.soak,
    pytest.mark.timeout(2400),
    pytest.mark.skipif(
        importlib.util.find_spec("PyInstaller") is None, reason="PyInstaller is not installed"
    ),
]
LARGEST_BYTES = 450e6


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    """The program, moved away from where it was built."""
    built = build(tmp_path_factory.mktemp("built"))
    moved = tmp_path_factory.mktemp("elsewhere") / "bench station"
    shutil.move(built.parent, moved)
    return moved / built.name


@pytest.fixture
def run(program, tmp_path):
    """Run it in an empty folder, with no path to any Python."""
    own = {"PATH": "/nowhere", "HOME": str(tmp_path), "BENCHSTATION_HOME": str(tmp_path / "home")}
    kept = {name: os.environ[name] for name in ("SYSTEMROOT", "TEMP", "LANG") if name in os.environ}

    def run(*arguments: str, **more: str) -> str:
        done = subprocess.run(
            [program, *arguments],
            cwd=tmp_path,
            env={**kept, **own, **more},
            capture_output=True,
            text=True,
            timeout=240,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    return run


def test_it_gives_its_version(run):
    assert run("--version") == f"benchstation {__version__}\n"


def test_it_computes(run):
    said = run("calc", "oil", "--volume", "262 mL", "--density", "0.8513 g/mL")
    assert "221.94 g" in said


def test_profiles_are_found_as_resources(run):
    assert len(run("profiles").splitlines()) > 20


def test_a_whole_unit_is_rehearsed_on_the_drivers_of_the_bundle(run, tmp_path):
    summary = json.loads(run("rehearse", "--fast", "--json"))
    assert summary["ok"]
    assert (tmp_path / "record.pdf").read_bytes().startswith(b"%PDF")


def test_the_past_is_made_by_the_bundle_itself(run):
    """As the demonstration has it made: by this very program, in a process of its own."""
    assert run("demo", "--past", "2").split() == ["0", "1"]


def test_the_window_opens_and_stays(program, tmp_path):
    env = {"PATH": "/nowhere", "HOME": str(tmp_path), "QT_QPA_PLATFORM": "offscreen"}
    process = subprocess.Popen([program, "demo"], env=env, stderr=subprocess.PIPE, text=True)
    try:
        with pytest.raises(subprocess.TimeoutExpired):
            process.wait(20)
    finally:
        process.terminate()
        process.wait(30)
        said = process.stderr.read()
        process.stderr.close()
    assert "Traceback" not in said


def test_it_is_no_larger_than_it_was(program):
    files = (path for path in program.parent.rglob("*") if path.is_file() and not path.is_symlink())
    assert sum(path.stat().st_size for path in files) < LARGEST_BYTES
