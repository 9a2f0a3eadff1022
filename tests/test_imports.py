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
        "benchstation.quantities.units",
        "benchstation.quantities.validation_messages",
        "benchstation.atomic_file",
        "resources",
    },
    "benchstation.quantities.units": set(),
    "benchstation.physics": set(),
    "benchstation.metrology": set(),
    "benchstation.domain.guard": set(),
    "benchstation.domain.people": set(),
    "benchstation.clock": set(),
    "benchstation.crash": set(),
    "benchstation.quantities.validation_messages": set(),
    "benchstation.atomic_file": set(),
    "benchstation.config.settings": {
        "benchstation.quantities.units",
        "benchstation.quantities.validation_messages",
        "benchstation.atomic_file",
    },
    "benchstation.domain": {
        "benchstation.physics",
        "benchstation.metrology",
        "benchstation.domain.guard",
        "benchstation.quantities.units",
        "benchstation.quantities.validation_messages",
        "benchstation.domain.people",
    },
    "benchstation.store": {"benchstation.domain", "benchstation.atomic_file"},
    "benchstation.reports": {
        "benchstation.store",
        "benchstation.domain",
        "benchstation.quantities.units",
        "benchstation.quantities.formatter",
        "benchstation.atomic_file",
        "resources",
    },
    "benchstation.screens.model.bench": {
        "benchstation.quantities.units",
        "benchstation.domain.people",
        "benchstation.screens.model.people",
        "benchstation.screens.model.queue",
        "benchstation.screens.model.records",
        "benchstation.screens.model.materials",
    },
    "benchstation.screens.model.queue": {"benchstation.screens.model.bench"},
    "benchstation.screens.model.onboarding": {"benchstation.screens.model.bench"},
    "benchstation.screens.model.lists": {"benchstation.screens.model.bench"},
    "benchstation.screens.model.people": {"benchstation.screens.model.lists"},
    "benchstation.screens.model.records": {"benchstation.screens.model.bench"},
    "benchstation.screens.model.materials": {"benchstation.screens.model.lists"},
    "benchstation.quantities.formatter": {"benchstation.quantities.units"},
    "benchstation.cli.calc": ANY,
    "benchstation.bench": ANY,
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
    "pint": {"benchstation.quantities.units"},
    "reportlab": {"benchstation.reports"},
    "PIL": {"benchstation.reports"},
    "pymodbus": {"drivers"},
    "pydantic": {
        "benchstation.domain",
        "benchstation.devices",
        "benchstation.config.settings",
        "benchstation.config.set_up",
    },
    "platformdirs": {
        "benchstation.quantities.units",
        "benchstation.config.settings",
        "benchstation.demo",
    },
    "tomli_w": {"benchstation.domain"},
    "rfc8785": {"benchstation.domain", "benchstation.store", "benchstation.reports"},
    "numpy": {"*"},
}
STANDARD_LIBRARY_ONLY = {
    "benchstation",
    "benchstation.driver_api",
    "benchstation.domain.guard",
    "benchstation.domain.people",
    "benchstation.clock",
    "benchstation.crash",
    "benchstation.quantities.validation_messages",
    "benchstation.atomic_file",
    "resources",
}


def part_of(module: str) -> str:
    """Return the row of the table that a module belongs to, longest name first."""
    names = module.split(".")
    if names[0] != "benchstation":
        return names[0]
    return ".".join(names[:2])


def imports_of(source: str, module: str, *, package: bool) -> Iterator[tuple[int, str]]:
    """Return line and full name of everything that ``source`` imports, in functions too."""
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
        ("benchstation.driver_api.contract", "from benchstation.quantities.units import parse"),
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
        ("benchstation.domain.guard", "import numpy as np"),
        ("benchstation.domain.guard", "from benchstation.domain.events import AlarmChanged"),
        ("benchstation.domain.rebuild", "from benchstation.store.journal import Journal"),
        ("benchstation.domain.rebuild", "import sqlalchemy.orm"),
        ("benchstation.domain.rebuild", "def late():\n    from benchstation.devices import x"),
        ("benchstation.store.journal", "from benchstation.reports import label"),
        ("benchstation.store.journal", "import pydantic"),
        ("benchstation.reports.label", "from PySide6.QtGui import QPainter"),
        ("benchstation.bench.session", "import pyqtgraph"),
        ("benchstation.rehearse", "from PySide6 import QtCore"),
        ("benchstation.rehearse", "import drivers"),
        ("benchstation.config.settings", "from benchstation.store import journal"),
        ("benchstation.quantities.units", "from benchstation.config.settings import Settings"),
        ("benchstation.ui.shell.bridge", "import sqlalchemy"),
        ("benchstation.ui.shell.bridge", "import drivers.replay"),
        ("sample_devices.scale", "from benchstation.driver_api.framing import crc16"),
        ("sample_devices.scale", "from drivers.modbus_registers import words"),
        ("benchstation.cli.main", "import requests"),
    ],
)
def test_each_rule_can_fail(module, source):
    assert offences(source, module)


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("benchstation.physics.oil", "from benchstation.driver_api.errors import StationError"),
        ("benchstation.physics.oil", "import numpy as np\nfrom benchstation.physics import air"),
        (
            "benchstation.ui.shell.bridge",
            "from PySide6 import QtCore\nimport benchstation.bench.session",
        ),
        ("benchstation.app", "from PySide6.QtWidgets import QApplication\nimport benchstation.ui"),
        ("benchstation.cli.main", "from benchstation import __version__"),
        ("drivers.text_line", "from drivers.text_frame import TextFrame"),
        ("drivers.modbus_registers", "from pymodbus.pdu import DecodePDU"),
        ("sample_devices.protocol_bench", "import serial\nfrom sample_devices import scale"),
    ],
)
def test_what_is_allowed_passes(module, source):
    assert offences(source, module) == []
