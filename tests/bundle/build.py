"""Builds the program as a folder that runs without Python: PyInstaller must be installed.

Run: python -m tests.bundle.build FOLDER; the program is then FOLDER/benchstation/benchstation.
"""

import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path

from tests.import_reader import ROOT

START = """from multiprocessing import freeze_support
freeze_support()
import sys
from benchstation.cli.main import main
sys.exit(main())
"""
WITH_DATA = ("resources", "benchstation", "reportlab", "pint")
"""Packages whose files that are no code are needed."""
WHOLE = (
    "benchstation",
    "drivers",
    "sample_devices",
    "keyring.backends",
    "sqlalchemy.dialects.postgresql",
    "reportlab.graphics.barcode",
)
"""Packages of which some modules are found by name only."""
KNOWN_AT_WORK = ("benchstation", "keyring")
"""Distributions whose entry points are asked for."""
LEFT_OUT = ("tkinter", "scipy", "CoolProp", "pytest", "mypy", "hypothesis", "IPython", "matplotlib")


def arguments(start: Path, folder: Path) -> list[str]:
    """Return what PyInstaller is told."""
    drivers = (entry.module for entry in entry_points(group="benchstation.drivers"))
    given = {
        "--collect-data": WITH_DATA,
        "--collect-submodules": WHOLE,
        "--copy-metadata": KNOWN_AT_WORK,
        "--exclude-module": LEFT_OUT,
        "--hidden-import": sorted({*drivers, "psycopg_binary", "logging.config"}),
    }
    told = [f"{option}={value}" for option, values in given.items() for value in values]
    places = [f"--paths={ROOT}", f"--distpath={folder}", f"--workpath={folder / 'work'}"]
    return [
        *told,
        *places,
        f"--specpath={folder}",
        "--name=benchstation",
        "--noconfirm",
        str(start),
    ]


def build(folder: Path) -> Path:
    """Build into a folder; return the program's file."""
    folder.mkdir(parents=True, exist_ok=True)
    start = folder / "start.py"
    start.write_text(START, "utf-8")
    command = [sys.executable, "-m", "PyInstaller", "--log-level=WARN", *arguments(start, folder)]
    subprocess.run(command, check=True)
    return (
        folder
        / "benchstation"
        / ("benchstation.exe" if sys.platform == "win32" else "benchstation")
    )


if __name__ == "__main__":
    print(build(Path(sys.argv[1])))
