"""This program is started once more, installed or bundled."""

import subprocess
import sys
from pathlib import Path

from benchstation import __version__, this_program


def test_the_command_runs_this_program():
    done = subprocess.run(
        this_program.command("--version"), capture_output=True, text=True, check=True
    )
    assert done.stdout == f"benchstation {__version__}\n"


def test_a_bundle_is_its_own_command(monkeypatch):
    monkeypatch.setattr(sys, "frozen", True, raising=False)
    assert this_program.command("demo", "--past", "3") == [sys.executable, "demo", "--past", "3"]
    assert this_program.launcher() == [sys.executable]


def test_a_menu_starts_the_installed_script(monkeypatch, tmp_path):
    monkeypatch.setattr("sysconfig.get_path", lambda name: str(tmp_path / name))
    assert this_program.launcher() == this_program.command()
    script = tmp_path / "scripts" / "benchstation"
    script.parent.mkdir()
    script.touch()
    assert this_program.launcher() == [str(Path(script))]
