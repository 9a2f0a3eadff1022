"""A thrown-away folder goes when it is closed, and one of a killed process with the next."""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from sample_devices.thrown_away import ThrownAway, sweep

PREFIX = "thrown-"
needs_locks = pytest.mark.skipif(os.name == "nt", reason="a killed one stays on this system")
OTHER = """
import sys
from sample_devices.thrown_away import ThrownAway
kept = ThrownAway(sys.argv[1])
print(kept.path, flush=True)
sys.stdin.read()
"""


@pytest.fixture(autouse=True)
def temporary(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    return tmp_path


@pytest.fixture
def other():
    """Another process that holds a folder until it is killed."""
    made = subprocess.Popen(
        [sys.executable, "-c", OTHER, PREFIX], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    yield made, Path(made.stdout.readline().decode().strip())
    made.kill()
    made.communicate()


def test_it_goes_when_it_is_closed(temporary):
    folder = ThrownAway(PREFIX)
    (folder.path / "inside").mkdir()
    assert list(temporary.iterdir()) == [folder.path]
    folder.close()
    folder.close()
    assert list(temporary.iterdir()) == []


@needs_locks
def test_one_of_a_killed_process_goes_with_the_next(other):
    process, left = other
    (left / "port").symlink_to("/dev/null")
    mine = ThrownAway(PREFIX)
    assert left.is_dir(), "its process lives"
    process.kill()
    process.wait()
    assert left.is_dir()
    second = ThrownAway(PREFIX)
    assert not left.exists()
    assert mine.path.is_dir(), "this process holds it"
    mine.close()
    second.close()


def test_what_nobody_is_known_to_hold_stays(temporary):
    (temporary / f"{PREFIX}no-lock").mkdir()
    (temporary / f"{PREFIX}file").write_text("kept")
    elsewhere = temporary / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "held").write_text("")
    linked = temporary / f"{PREFIX}link"
    linked.mkdir()
    (linked / "held").symlink_to(elsewhere / "held")
    before = sorted(temporary.rglob("*"))
    sweep(PREFIX)
    assert sorted(temporary.rglob("*")) == before
