"""Units by name in a profile: what a driver takes as factors is looked up in the units' module."""

from collections.abc import Mapping
from typing import Any

from benchstation.devices.registry import load_driver
from benchstation.devices.value_words import DIMENSION
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.reading import Quantity
from benchstation.quantities.units import Dimension, conversion, parse

Unit = tuple[float, float]
"""Factor and offset: value_si = number * factor + offset."""


def dimension_of(kind: str) -> Dimension:
    """Return what the values of a kind are."""
    return DIMENSION[Quantity(kind)]


def resolved(options: Mapping[str, Any], kind: str, driver_id: str) -> dict[str, Any]:
    """Return a driver's options with factors where a profile names units.

    Raises :class:`ValueError` that names the option.
    """
    made = dict(options)
    if "units" in made:
        made["units"] = _units_of(made["units"], kind)
    takes = {option.name for option in load_driver(driver_id).info.options}
    by_name = "factor" in takes and "factor" not in made and isinstance(made.get("unit"), str)
    if by_name and "unit_code" not in made:
        made["factor"], offset = _by_name(made["unit"], kind, "unit")
        made.setdefault("offset", offset)
    if isinstance(made.get("also"), Mapping):
        made["also"] = {
            name: resolved(_in_si(part, name), name, driver_id) if _is_kind(name, part) else part
            for name, part in made["also"].items()
        }
    if isinstance(made.get("range"), Mapping):
        made["range"] = {end: _quantity(made["range"][end], kind, end) for end in made["range"]}
    source = made.get("source")
    if isinstance(source, Mapping) and isinstance(source.get("driver"), str):
        signal = made.get("signal")
        in_volts = isinstance(signal, Mapping) and signal.get("kind") != "current"
        measured = Quantity.VOLTAGE if in_volts else Quantity.CURRENT
        made["source"] = resolved(source, measured, source["driver"])
    return made


def _units_of(units: object, kind: str) -> dict[str, Any]:
    """Return a table of units with factors for names; what else stands there the driver checks."""
    if isinstance(units, list):
        units = {text: text for text in units if isinstance(text, str)}
    if not isinstance(units, Mapping):
        raise ValueError("units: a table is required, such as { g = 'g', kg = 'kg' }")
    found: dict[str, Any] = {}
    for text, value in units.items():
        if isinstance(value, str):
            factor, offset = _by_name(value, kind, f"units.{text}")
            found[text] = {"factor": factor, "offset": offset} if offset else factor
        else:
            found[text] = value
    return found


def quantities_in(table: Mapping[str, Any], kind: object) -> dict[str, Any]:
    """Return low, high and resolution in SI where they are written as quantities."""
    if kind not in tuple(Quantity):
        return dict(table)
    return {name: _quantity(value, str(kind), name) for name, value in table.items()}


def _quantity(value: object, kind: str, name: str) -> object:
    if not isinstance(value, str) or name == "reference":
        return value
    dimension = dimension_of(kind)
    if name == "resolution" and dimension is Dimension.TEMPERATURE:
        dimension = Dimension.TEMPERATURE_DIFFERENCE
    try:
        return parse(value, dimension)
    except StationError as error:
        raise ValueError(f"{name}: {error}") from error


def _by_name(name: str, kind: str, where: str) -> Unit:
    try:
        return conversion(name, dimension_of(kind))
    except StationError as error:
        raise ValueError(f"{where}: {error}") from error


def named(unit: str, kind: str) -> Unit | None:
    """Return factor and offset of a unit by its name, ``None`` where it is no name of one."""
    try:
        return conversion(unit, dimension_of(kind))
    except StationError:
        return None


def _in_si(part: Mapping[str, Any], kind: str) -> dict[str, Any]:
    ends = {name: part[name] for name in ("low", "high", "resolution") if name in part}
    return {**part, **quantities_in(ends, kind)}


def _is_kind(name: str, part: object) -> bool:
    return name in tuple(Quantity) and isinstance(part, Mapping)
