"""The wheel stands on its own: built from a copy, put elsewhere, run from an empty folder."""

import json
import os
import shutil
import subprocess
import sys
import tomllib
import zipfile
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parent.parent
PACKAGES = ("benchstation", "drivers", "sample_devices", "resources")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))

pytestmark = pytest.mark.timeout(600)


def run(*command: str, **options: object) -> str:
    done = subprocess.run(command, capture_output=True, text=True, check=False, **options)
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def has_build_backend() -> bool:
    """Say whether the running environment can build without fetching the backend first."""
    for text in PROJECT["build-system"]["requires"]:
        requirement = Requirement(text)
        try:
            if version(requirement.name) not in requirement.specifier:
                return False
        except PackageNotFoundError:
            return False
    return True


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    """Build from a copy, so that the build leaves nothing in the source tree."""
    source = tmp_path_factory.mktemp("source")
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, source)
    for name in PACKAGES:
        shutil.copytree(
            ROOT / name, source / name, ignore=shutil.ignore_patterns("__pycache__", "*.egg-info")
        )
    out = tmp_path_factory.mktemp("wheel")
    isolation = ["--no-isolation"] if has_build_backend() else []
    run(sys.executable, "-m", "build", "--wheel", *isolation, "--outdir", str(out), str(source))
    (built,) = out.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory) -> Path:
    """Put the wheel alone into a folder; its dependencies come from the running environment."""
    target = tmp_path_factory.mktemp("installed")
    pip = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index"]
    run(*pip, "--target", str(target), str(wheel))
    return target


def python(installed: Path, folder: Path, *arguments: str) -> str:
    """Run Python in an empty folder that sees the installed files before anything else."""
    environment = os.environ | {"PYTHONPATH": str(installed), "BENCHSTATION_HOME": str(folder)}
    return run(sys.executable, "-P", *arguments, cwd=folder, env=environment, timeout=120)


def shipped_resources() -> list[str]:
    top = ROOT / "resources"
    files = (path for path in top.rglob("*") if path.is_file() and "__pycache__" not in path.parts)
    return sorted(str(path.relative_to(top).as_posix()) for path in files)


def test_the_wheel_holds_the_packages_and_no_tests(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    tops = {name.partition("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == set(PACKAGES)
    assert "benchstation/py.typed" in names
    for path in (ROOT / "benchstation").rglob("*.py"):
        assert path.relative_to(ROOT).as_posix() in names


def test_the_code_that_runs_is_the_installed_one(installed, tmp_path):
    place = python(installed, tmp_path, "-c", "import benchstation; print(benchstation.__file__)")
    assert Path(place.strip()).is_relative_to(installed)


def test_every_driver_is_found_and_loads(installed, tmp_path):
    code = """
import json
from importlib.metadata import distributions
found = {}
for distribution in distributions(name="benchstation"):
    for entry in distribution.entry_points.select(group="benchstation.drivers"):
        found.setdefault(entry.name, entry.load().info.id)
    break
print(json.dumps(found))
"""
    found = json.loads(python(installed, tmp_path, "-c", code))
    assert set(found) == set(PROJECT["project"]["entry-points"]["benchstation.drivers"])
    assert all(name == driver_id for name, driver_id in found.items())


def test_every_resource_can_be_read(installed, tmp_path):
    code = """
import json
from importlib.resources import files

def walk(folder, before=""):
    for entry in folder.iterdir():
        if entry.is_dir():
            if entry.name != "__pycache__":
                yield from walk(entry, before + entry.name + "/")
        else:
            yield before + entry.name, len(entry.read_bytes())

print(json.dumps(dict(walk(files("resources")))))
"""
    sizes = json.loads(python(installed, tmp_path, "-c", code))
    assert sorted(sizes) == shipped_resources()
    assert any(name.startswith("profiles/") for name in sizes)
    for name, size in sizes.items():
        assert size == (ROOT / "resources" / name).stat().st_size


def test_the_command_gives_its_version(installed, tmp_path):
    said = python(installed, tmp_path, "-m", "benchstation", "--version")
    assert PROJECT["project"]["version"] in said
