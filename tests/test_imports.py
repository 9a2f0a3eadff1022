"""Who may import whom: a row for each part, held against the real imports of every source.

An import counts wherever it stands: in a function, under ``TYPE_CHECKING``, or by a name given as
text. What a row does not name is refused, of the project and of the libraries.
"""

import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from graphlib import CycleError, TopologicalSorter

import pytest

from tests.import_reader import (
    NOT_WRITTEN_OUT,
    OURS,
    ROOT,
    Imported,
    imports_of,
    module_graph,
    project_imports,
    sources,
)

AT_THE_ROOT = {"__init__", "__main__", "app", "atomic_file", "clock", "crash"}


@dataclass(frozen=True, slots=True)
class Row:
    """What a part may import of the others (a package, or one module of it), and of libraries."""

    ours: frozenset[str] = field(default_factory=frozenset)
    libraries: frozenset[str] = field(default_factory=frozenset)


def row(ours: str = "", libraries: str = "") -> Row:
    return Row(frozenset(ours.split()), frozenset(libraries.split()))


# Names are those below benchstation, or of the packages beside it. Errors and readings are words of
# the driver contract that everybody may use; the rest of it is for who speaks to devices.
ROWS = {
    "driver_api": row(),
    "drivers": row("driver_api", "pymodbus"),
    "link": row("driver_api", "serial"),
    "quantities": row("driver_api.errors", "pint platformdirs numpy"),
    "physics": row("driver_api.errors", "numpy"),
    "metrology": row("driver_api.errors", "numpy"),
    "domain": row(
        "physics metrology quantities driver_api.errors driver_api.outside_text driver_api.reading",
        "numpy pydantic rfc8785 tomlkit",
    ),
    "config": row(
        "domain quantities driver_api.errors driver_api.outside_text atomic_file resources",
        "pydantic platformdirs",
    ),
    "devices": row("driver_api link quantities atomic_file resources", "pydantic"),
    "store": row(
        "domain driver_api.errors atomic_file",
        "sqlalchemy psycopg numpy rfc8785 cryptography alembic keyring",
    ),
    # The bench names link for what it keeps of a line (bytes, lost or live) and for its outputs.
    "bench": row(
        "domain devices store physics metrology quantities config driver_api link clock version",
        "numpy",
    ),
    # The data sheet of a shipment says each clause with its figures, as the shipping sheet does.
    "reports": row(
        "domain store physics quantities metrology.capability driver_api.errors atomic_file"
        " version resources",
        "reportlab pikepdf PIL numpy rfc8785",
    ),
    "screens.model": row("domain quantities", "numpy"),
    # Physics and metrology are pure and lower than all the rest: a page that draws a curve or says
    # a limit asks them, and no go-between in the bench repeats them. Of a line: its state alone.
    "screens": row(
        "screens.model bench domain store reports devices quantities physics metrology"
        " driver_api.errors driver_api.reading link.statistics",
        "numpy",
    ),
    "ui": row(
        "screens.model quantities.notation quantities.units driver_api.errors atomic_file"
        " resources",
        "PySide6 shiboken6 pyqtgraph numpy pypdfium2",
    ),
    "demo": row(
        "screens bench reports store domain devices metrology quantities link driver_api.errors"
        " clock version resources sample_devices",
        "numpy platformdirs",
    ),
    "cli": row(
        "app demo bench reports store domain config devices link physics quantities driver_api"
        " crash version sample_devices atomic_file screens.records resources"
    ),
    "app": row(
        "ui demo screens bench store domain config driver_api.errors clock crash sample_devices"
        " atomic_file"
    ),
    "__main__": row("cli"),
    "crash": row("driver_api.errors"),
    "clock": row(),
    "atomic_file": row(),
    # The package itself: nothing but its version.
    "version": row(),
    "sample_devices": row("", "serial"),
    "resources": row(),
}
BY_TEXT_IN = {"benchstation.cli.calc", "benchstation.ui.shell.run", "benchstation.ui.shell.window"}
"""Where a module is imported, or looked for, by a name given as text."""
NEVER = ("runpy", "pkgutil", "imp", "zipimport")
"""Other ways to a module by its name."""


def place_of(name: str) -> str:
    """Return a name as the rows write it."""
    top, _, rest = name.partition(".")
    if top != "benchstation":
        return name
    return "version" if rest in ("", "__version__") else rest


def part_of(place: str) -> str:
    """Return the row that a place belongs to, the longest name first; empty: none."""
    while place and place not in ROWS:
        place = place.rpartition(".")[0]
    return place


def permission(place: str, allowed: frozenset[str]) -> str:
    """Return what of a row permits a place; empty: nothing."""
    held = (name for name in allowed if place == name or place.startswith(f"{name}."))
    return next(held, "")


def why_not(module: str, imported: str) -> str | None:
    """Say why ``module`` may not import ``imported``; ``None`` when it may."""
    part, top = part_of(place_of(module)), imported.partition(".")[0]
    if imported == NOT_WRITTEN_OUT:
        return "a reader, and this test, must see which module it is"
    if top in NEVER:
        return "modules are imported by their names"
    if top in sys.stdlib_module_names:
        by_text = imported in ("importlib", "importlib.util", "importlib.import_module")
        if by_text and module not in BY_TEXT_IN:
            return "imports by text are listed by name"
        return None
    allowed = ROWS[part]
    if top not in OURS:
        return None if top in allowed.libraries else f"{top} is not used in {part}"
    place = place_of(imported)
    if part_of(place) == part or permission(place, allowed.ours):
        return None
    if top == "drivers":
        return "drivers come in by their entry points, never by name"
    return f"{part} may not look at {place}"


def offences(module: str, imports: Iterable[Imported]) -> list[str]:
    return [
        f"{module}:{imported.line} imports {imported.name}: {reason}"
        for imported in imports
        if (reason := why_not(module, imported.name))
    ]


def test_every_import_is_one_that_its_row_names():
    read = project_imports().items()
    found = [offence for module, imports in read for offence in offences(module, imports)]
    assert found == []


def test_every_module_has_its_row_and_the_root_holds_no_more_than_it_should():
    assert [name for name in sources() if part_of(place_of(name)) not in ROWS] == []
    assert {path.stem for path in (ROOT / "benchstation").glob("*.py")} == AT_THE_ROOT
    packages = {path.parent.name for path in (ROOT / "benchstation").glob("*/__init__.py")}
    assert packages == {name for name in ROWS if (ROOT / "benchstation" / name).is_dir()}
    assert len(sources()) > 300


def test_no_row_permits_what_nothing_needs():
    used: dict[str, set[str]] = {part: set() for part in ROWS}
    for module, imports in project_imports().items():
        part = part_of(place_of(module))
        for imported in imports:
            top = imported.name.partition(".")[0]
            used[part].add(top)
            used[part].add(permission(place_of(imported.name), ROWS[part].ours))
    left = {part: (ROWS[part].ours | ROWS[part].libraries) - used[part] for part in ROWS}
    assert {part: names for part, names in left.items() if names} == {}


def cycle_in(graph: Mapping[str, set[str]]) -> list[str]:
    """Return one cycle, or nothing."""
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_no_cycles_between_modules():
    assert cycle_in(module_graph()) == []


def test_no_cycles_between_parts():
    graph: dict[str, set[str]] = {part: set() for part in ROWS}
    for module, others in module_graph().items():
        part = part_of(place_of(module))
        graph[part] |= {part_of(place_of(other)) for other in others} - {part}
    assert cycle_in(graph) == []
    assert graph["ui"]


def test_no_cycle_is_permitted_by_the_rows_either():
    assert cycle_in({part: {part_of(n) for n in r.ours} - {part} for part, r in ROWS.items()}) == []


def test_a_cycle_is_found():
    assert cycle_in({"a": {"b"}, "b": {"c"}, "c": {"a"}})


def lines(text: str) -> list[tuple[str, str]]:
    """Return module and source of each line; ``; `` ends a line of it, ``|`` begins a block."""
    parts = (line.partition(": ") for line in text.strip().splitlines())
    return [(who, what.replace("; ", "\n").replace("|", "\n    ")) for who, _, what in parts]


REFUSED = """
benchstation.driver_api.framing: import numpy
benchstation.driver_api.contract: from benchstation.quantities.units import parse
benchstation.driver_api.contract: from benchstation.clock import Clock
benchstation.driver_api.contract: from benchstation import __version__
drivers.text_line: from benchstation.link import transport
drivers.text_line: import serial
benchstation.link.port: from benchstation.devices import registry
benchstation.link.port: import sqlalchemy
benchstation.devices.registry: import drivers.text_line
benchstation.devices.registry: from drivers import text_line
benchstation.devices.registry: import importlib; importlib.import_module('drivers.x')
benchstation.devices.registry: from importlib import import_module as load; load('drivers.x')
benchstation.devices.registry: import importlib.util
benchstation.devices.registry: x = __import__('drivers.x')
benchstation.devices.registry: take = __import__
benchstation.devices.registry: import runpy
benchstation.devices.registry: from pkgutil import resolve_name
benchstation.devices.registry: import serial
benchstation.quantities.units: from benchstation.config.settings import Settings
benchstation.quantities.formatter: from benchstation.driver_api.reading import Health
benchstation.physics.oil: from benchstation import units
benchstation.physics.oil: import benchstation
benchstation.physics.oil: import scipy
benchstation.physics.oil: from benchstation.clock import Clock
benchstation.metrology.stability: from benchstation.physics.oil import Oil
benchstation.metrology.stability: from ..physics import oil
benchstation.domain.guard: from benchstation.store.journal import Journal
benchstation.domain.guard: from benchstation.atomic_file import put_in_place
benchstation.domain.guard: from benchstation.driver_api.contract import Driver
benchstation.domain.rebuild: import sqlalchemy.orm
benchstation.domain.rebuild: def late():|from benchstation.devices import x
benchstation.domain.rebuild: if TYPE_CHECKING:|from benchstation.bench.session import S
benchstation.config.settings: from benchstation.store import journal
benchstation.config.set_up: from benchstation.devices.profile import load_profile
benchstation.store.journal: from benchstation.reports import label
benchstation.store.journal: import pydantic
benchstation.bench.session: import pyqtgraph
benchstation.bench.session: from benchstation.screens.model.elements import AT
benchstation.bench.session: from benchstation.reports import label
benchstation.bench.session: from benchstation.demo import shop
benchstation.bench.session: from sample_devices import scale
benchstation.reports.label: from PySide6.QtGui import QPainter
benchstation.reports.label: from benchstation.bench.session import BenchSession
benchstation.screens.model.elements: from benchstation.bench.session import BenchSession
benchstation.screens.model.elements: from benchstation.screens.service import Station
benchstation.screens.model.elements: from PySide6 import QtGui
benchstation.screens.service: from benchstation.ui.shell.bridge import Bridge
benchstation.screens.service: from benchstation.config.settings import Settings
benchstation.screens.instruments.page: from benchstation.link.reader import Reader
benchstation.screens.instruments.page: import sqlalchemy
benchstation.ui.shell.bridge: import sqlalchemy
benchstation.ui.shell.bridge: import drivers.replay
benchstation.ui.shell.bridge: import benchstation.bench.session
benchstation.ui.shell.bridge: from benchstation.screens.service import Station
benchstation.ui.shell.bridge: from benchstation.domain.people import Person
benchstation.ui.shell.run: import importlib; importlib.import_module('benchstation.store')
benchstation.ui.shell.run: import importlib; importlib.import_module(name)
benchstation.ui.shell.run: import importlib; importlib.import_module(f'benchstation.{name}')
benchstation.ui.shell.run: import importlib; importlib.import_module(f'{name}.units')
benchstation.ui.pages.help: from importlib.resources import files; files('benchstation.store')
benchstation.demo.rehearse: from PySide6 import QtCore
benchstation.demo.rehearse: import drivers
benchstation.demo.rehearse: from benchstation.cli.main import main
benchstation.demo.rehearse: from benchstation.ui.shell.run import run_window
benchstation.app: from benchstation.cli.main import main
benchstation.app: import PySide6
benchstation.cli.main: import requests
benchstation.cli.main: import drivers
benchstation.crash: from benchstation.clock import Clock
benchstation.clock: import numpy
benchstation.atomic_file: from benchstation.driver_api.errors import StationError
benchstation.__main__: from benchstation.app import run_demo
benchstation: from benchstation.app import run_demo
sample_devices.scale: from benchstation.driver_api.framing import crc16
sample_devices.scale: from drivers.modbus_registers import words
sample_devices.scale: import numpy
resources.read: from benchstation.driver_api.errors import StationError
"""
PERMITTED = """
benchstation.physics.oil: from benchstation.driver_api.errors import StationError
benchstation.physics.oil: import numpy as np; from benchstation.physics import air
benchstation.screens.service: from benchstation.screens.model.elements import Tone
benchstation.ui.shell.bridge: from PySide6 import QtCore; from benchstation.ui import pages
benchstation.app: from benchstation.ui.shell.run import run_window
benchstation.cli.main: from benchstation import __version__
benchstation.cli.calc: from importlib import import_module
benchstation.cli.calc: import_module(f'benchstation.cli.calc.{name}')
benchstation.devices.profile: from importlib.resources import files; files('resources')
drivers.text_line: from drivers.text_frame import TextFrame
drivers.modbus_registers: from pymodbus.pdu import DecodePDU
sample_devices.protocol_bench: import serial; from sample_devices import scale
"""


@pytest.mark.parametrize(("module", "source"), lines(REFUSED))
def test_each_rule_can_fail(module, source):
    assert offences(module, imports_of(source, module))


@pytest.mark.parametrize(("module", "source"), lines(PERMITTED))
def test_what_is_allowed_passes(module, source):
    assert offences(module, imports_of(source, module)) == []


def test_each_row_is_shown_to_refuse_something():
    shown = {part_of(place_of(module)) for module, _ in lines(REFUSED)}
    assert shown == set(ROWS)
