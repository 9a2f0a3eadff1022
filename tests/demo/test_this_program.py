"""This program is started once more, installed or bundled."""

import subprocess
import sys

from benchstation import __version__
from benchstation.demo import this_program


def test_the_command_runs_this_program():
    done = subprocess.run(
        this_program.command("--version"), capture_output=True, text=True, check=True
    )
    assert done.stdout == f"benchstation {__version__}\n"


def test_a_bundle_is_its_own_command(monkeypatch):
    monkeypatch.setattr(sys, "frozen", True, raising=False)
    assert this_program.command("demo", "--past", "3") == [sys.executable, "demo", "--past", "3"]
