"""Who may import whom, read from the sources: layers only look down, one library in one place."""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
OURS = ("benchstation", "drivers", "sample_devices", "resources")
ANY = None

# What each part may import of the others, besides itself. ``ANY``: all but the drivers by name.
# Errors and readings of the driver contract are words that every part of the station may use.
SHARED_WORDS = ("benchstation.driver_api.errors", "benchstation.driver_api.reading")
LAYERS: dict[str, set[str] | None] = {
    "benchstation": set(),
    "benchstation.driver_api": set(),
    "benchstation.link": {"benchstation.driver_api"},
    "benchstation.devices": {
        "benchstation.driver_api",
        "benchstation.link",
        "benchstation.metrology",
        "benchstation.units",
        "benchstation.misfits",
        "benchstation.whole_file",
        "resources",
    },
    "benchstation.units": set(),
    "benchstation.physics": set(),
    "benchstation.metrology": set(),
    "benchstation.guard": set(),
    "benchstation.people": set(),
    "benchstation.clock": set(),
    "benchstation.crash": set(),
    "benchstation.misfits": set(),
    "benchstation.whole_file": set(),
    "benchstation.settings": {
        "benchstation.units",
        "benchstation.misfits",
        "benchstation.whole_file",
    },
    "benchstation.rebuild": {
        "benchstation.physics",
        "benchstation.metrology",
        "benchstation.guard",
        "benchstation.units",
        "benchstation.misfits",
        "benchstation.people",
    },
    "benchstation.store": {"benchstation.rebuild", "benchstation.whole_file"},
    "benchstation.reports": {
        "benchstation.store",
        "benchstation.rebuild",
        "benchstation.units",
        "benchstation.words",
        "benchstation.whole_file",
        "resources",
    },
    "benchstation.bench_view": {
        "benchstation.units",
        "benchstation.people",
        "benchstation.people_view",
        "benchstation.queue_view",
        "benchstation.records_view",
        "benchstation.stores_view",
    },
    "benchstation.queue_view": {"benchstation.bench_view"},
    "benchstation.adding_view": {"benchstation.bench_view"},
    "benchstation.list_view": {"benchstation.bench_view"},
    "benchstation.people_view": {"benchstation.list_view"},
    "benchstation.records_view": {"benchstation.bench_view"},
    "benchstation.stores_view": {"benchstation.list_view"},
    "benchstation.words": {"benchstation.units"},
    "benchstation.calc": ANY,
    "benchstation.station": ANY,
    "benchstation.demo": ANY,
    "benchstation.ui": ANY,
    "drivers": {"benchstation.driver_api"},
    "sample_devices": set(),
    "resources": set(),
}
# A single file straight under benchstation that is not named above composes the others.
COMPOSITION: set[str] | None = ANY

# Where each library may be used; "*" is anywhere but in the parts that are standard library only.
LIBRARIES = {
    "PySide6": {"benchstation.ui", "benchstation.app"},
    "shiboken6": {"benchstation.ui", "benchstation.app"},
    "pyqtgraph": {"benchstation.ui", "benchstation.app"},
    "serial": {"benchstation.link", "sample_devices"},
    "sqlalchemy": {"benchstation.store"},
    "pint": {"benchstation.units"},
    "reportlab": {"benchstation.reports"},
    "PIL": {"benchstation.reports"},
    "pymodbus": {"drivers"},
    "pydantic": {
        "benchstation.rebuild",
        "benchstation.devices",
        "benchstation.settings",
        "benchstation.set_up",
    },
    "platformdirs": {"benchstation.units", "benchstation.settings", "benchstation.demo"},
    "tomli_w": {"benchstation.rebuild"},
    "rfc8785": {"benchstation.rebuild", "benchstation.store", "benchstation.reports"},
    "numpy": {"*"},
}
STANDARD_LIBRARY_ONLY = {
    "benchstation",
    "benchstation.driver_api",
    "benchstation.guard",
    "benchstation.people",
    "benchstation.clock",
    "benchstation.crash",
    "benchstation.misfits",
    "benchstation.whole_file",
    "resources",
}


def part_of(module: str) -> str:
    """Give the row of the table that a module belongs to, longest name first."""
    names = module.split(".")
    if names[0] != "benchstation":
        return names[0]
    return ".".join(names[:2])


def imports_of(source: str, module: str, *, package: bool) -> Iterator[tuple[int, str]]:
    """Give line and full name of everything that ``source`` imports, in functions too."""
    home = module.split(".") if package else module.split(".")[:-1]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = home[: len(home) - node.level + 1] if node.level else []
            stem = ".".join([*base, *([node.module] if node.module else [])])
            yield from ((node.lineno, f"{stem}.{alias.name}") for alias in node.names)
        elif isinstance(node, ast.Call) and node.args:
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            first = node.args[0]
            by_text = name in ("import_module", "__import__")
            if by_text and isinstance(first, ast.Constant) and isinstance(first.value, str):
                yield node.lineno, first.value


def why_not(importer: str, imported: str) -> str | None:
    """Say why module ``importer`` may not import ``imported``; ``None`` when it may."""
    part, top = part_of(importer), imported.partition(".")[0]
    if top in sys.stdlib_module_names:
        return None
    if top not in OURS:
        places = LIBRARIES.get(top)
        if places is None:
            return f"{top} is no library this project depends on"
        if part in places or ("*" in places and part not in STANDARD_LIBRARY_ONLY):
            return None
        return f"{top} is not used in {part}"
    other = part_of(imported)
    if other == part or (other == "benchstation" and top == imported):
        return None
    if imported.startswith("benchstation.") and other not in known_parts():
        # ``from benchstation import __version__`` names no module.
        return None
    if part.startswith("benchstation") and imported.startswith(SHARED_WORDS):
        return None
    if other == "drivers":
        return "drivers come in by their entry points, never by name"
    allowed = LAYERS.get(part, COMPOSITION)
    if allowed is ANY or other in allowed:
        return None
    return f"{part} may not look at {other}"


def known_parts() -> set[str]:
    found = {path.stem for path in (ROOT / "benchstation").glob("*.py")}
    found |= {path.parent.name for path in (ROOT / "benchstation").glob("*/__init__.py")}
    return set(LAYERS) | {f"benchstation.{name}" for name in found - {"__init__"}}


def sources() -> list[tuple[str, Path]]:
    paths = sorted(path for top in OURS for path in (ROOT / top).rglob("*.py"))
    return [
        (".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"), path)
        for path in paths
    ]


def offences(source: str, module: str, *, package: bool = False) -> list[str]:
    return [
        f"{module}:{line} imports {name}: {reason}"
        for line, name in imports_of(source, module, package=package)
        if (reason := why_not(module, name))
    ]


def test_every_import_looks_down():
    found = [
        offence
        for module, path in sources()
        for offence in offences(path.read_text("utf-8"), module, package=path.name == "__init__.py")
    ]
    assert found == []


def test_every_package_has_its_row():
    packages = {
        f"benchstation.{path.parent.name}" for path in (ROOT / "benchstation").glob("*/__init__.py")
    }
    assert packages <= set(LAYERS)
    assert len(sources()) > 20


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("benchstation.driver_api.framing", "import numpy"),
        ("benchstation.driver_api.contract", "from benchstation.units import parse"),
        ("drivers.text_line", "from benchstation.link import transport"),
        ("drivers.text_line", "import serial"),
        ("benchstation.link.port", "from benchstation.devices import registry"),
        ("benchstation.devices.registry", "import drivers.text_line"),
        ("benchstation.devices.registry", "from drivers import text_line"),
        ("benchstation.devices.registry", "import importlib; importlib.import_module('drivers.x')"),
        ("benchstation.physics.oil", "from benchstation import units"),
        ("benchstation.physics.oil", "import scipy"),
        ("benchstation.metrology.stability", "from benchstation.physics.oil import Oil"),
        ("benchstation.metrology.stability", "from ..physics import oil"),
        ("benchstation.guard", "import numpy as np"),
        ("benchstation.guard", "from benchstation.rebuild.events import AlarmChanged"),
        ("benchstation.rebuild.rebuild", "from benchstation.store.journal import Journal"),
        ("benchstation.rebuild.rebuild", "import sqlalchemy.orm"),
        ("benchstation.rebuild.rebuild", "def late():\n    from benchstation.devices import x"),
        ("benchstation.store.journal", "from benchstation.reports import label"),
        ("benchstation.store.journal", "import pydantic"),
        ("benchstation.reports.label", "from PySide6.QtGui import QPainter"),
        ("benchstation.station.desk", "import pyqtgraph"),
        ("benchstation.rehearse", "from PySide6 import QtCore"),
        ("benchstation.rehearse", "import drivers"),
        ("benchstation.settings", "from benchstation.store import journal"),
        ("benchstation.units", "from benchstation.settings import Settings"),
        ("benchstation.ui.bridge", "import sqlalchemy"),
        ("benchstation.ui.bridge", "import drivers.replay"),
        ("sample_devices.scale", "from benchstation.driver_api.framing import crc16"),
        ("sample_devices.scale", "from drivers.modbus_registers import words"),
        ("benchstation.cli", "import requests"),
    ],
)
def test_each_rule_can_fail(module, source):
    assert offences(source, module)


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("benchstation.physics.oil", "from benchstation.driver_api.errors import StationError"),
        ("benchstation.physics.oil", "import numpy as np\nfrom benchstation.physics import air"),
        ("benchstation.ui.bridge", "from PySide6 import QtCore\nimport benchstation.station.desk"),
        ("benchstation.app", "from PySide6.QtWidgets import QApplication\nimport benchstation.ui"),
        ("benchstation.cli", "from benchstation import __version__"),
        ("drivers.text_line", "from drivers.text_frame import TextFrame"),
        ("drivers.modbus_registers", "from pymodbus.pdu import DecodePDU"),
        ("sample_devices.protocol_bench", "import serial\nfrom sample_devices import scale"),
    ],
)
def test_what_is_allowed_passes(module, source):
    assert offences(source, module) == []
