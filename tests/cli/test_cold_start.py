"""What a command loads: a version, a help text or a figure waits for no database and no window."""

import subprocess
import sys

import pytest

HEAVY = ("PySide6", "numpy", "pint", "pydantic", "serial", "sqlalchemy")
LOADED = """
import sys
from benchstation.cli.main import main
try:
    main(sys.argv[1:])
except SystemExit:
    pass
print("loaded:", *sorted({name.partition(".")[0] for name in sys.modules}))
"""
OIL = ("calc", "oil", "--volume", "262 mL", "--density", "0.851 g/mL")
GAS = ("calc", "gas", "--charge", "12 bar", "--volume", "80 mL", "--to", "40 degC")


def loaded_by(*arguments: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", LOADED, *arguments], capture_output=True, text=True, check=True
    )
    return set(done.stdout.splitlines()[-1].split()[1:])


@pytest.mark.parametrize(
    "arguments",
    [("--version",), ("--help",), ("calc", "--help"), ("calc", "oil", "--help"), ("calc", "oil")],
)
def test_nothing_heavy_is_loaded_where_nothing_is_computed(arguments):
    loaded = loaded_by(*arguments)
    assert "argparse" in loaded
    assert loaded.isdisjoint(HEAVY)


@pytest.mark.parametrize("arguments", [OIL, GAS])
def test_a_figure_loads_the_unit_library_and_no_database(arguments):
    """The unit library loads numpy by itself."""
    loaded = loaded_by(*arguments)
    assert "pint" in loaded
    assert loaded.isdisjoint(set(HEAVY) - {"pint", "numpy"})


def test_a_specification_is_read_without_a_database():
    loaded = loaded_by("check-specification", "no-such-file.toml")
    assert "pydantic" in loaded
    assert loaded.isdisjoint({"PySide6", "sqlalchemy", "serial"})
