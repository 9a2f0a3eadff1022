"""Units at the edge: text to SI floats and back. The only place that knows the unit library.

Conversion factors come from pint, whose definitions follow NIST SP 811 appendix B; nothing of pint
leaves this module. Fluid ounces, gallons and pints are US ones unless ``imp`` stands before them.
Gauge or absolute is a property of a field, never a unit: ``psig`` and ``bara`` are refused.
"""

import functools
import math
import re
import threading
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from benchstation.driver_api.errors import StationError
from benchstation.quantities.notation import NO_VALUE, fixed, powered, significant

if TYPE_CHECKING:
    import numpy as np
    import pint
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]


class UnitError(StationError):
    """A text is not a quantity of the wanted dimension."""


class Dimension(StrEnum):
    """What a field takes. Values inside are in the SI unit named beside each member."""

    MASS = "mass"  # kg
    VOLUME = "volume"  # m3
    LENGTH = "length"  # m
    AREA = "area"  # m2
    DENSITY = "density"  # kg/m3
    PRESSURE = "pressure"  # Pa
    TEMPERATURE = "temperature"  # K
    TEMPERATURE_DIFFERENCE = "temperature difference"  # K
    FORCE = "force"  # N
    TIME = "time"  # s
    LEAK = "leak rate"  # Pa m3/s
    TORQUE = "torque"  # N m
    EXPANSION = "expansion coefficient"  # 1/K
    FLOW = "mass flow"  # kg/s
    HUMIDITY = "relative humidity"  # a share, 0 to 1
    CURRENT = "current"  # A
    VOLTAGE = "voltage"  # V


class UnitSystem(StrEnum):
    """How values are shown. Stored values do not depend on it."""

    METRIC = "metric"
    INCH_POUND = "inch-pound"


@dataclass(frozen=True, slots=True)
class Shown:
    """A value ready to draw: rounded text, unit text, and the unrounded value in that unit."""

    number: str
    unit: str
    value: float

    def __str__(self) -> str:
        """Return number and unit as one text."""
        return f"{self.number} {self.unit}"


_SI = {
    Dimension.MASS: "kg",
    Dimension.VOLUME: "m**3",
    Dimension.LENGTH: "m",
    Dimension.AREA: "m**2",
    Dimension.DENSITY: "kg/m**3",
    Dimension.PRESSURE: "Pa",
    Dimension.TEMPERATURE: "K",
    Dimension.TEMPERATURE_DIFFERENCE: "K",
    Dimension.FORCE: "N",
    Dimension.TIME: "s",
    Dimension.LEAK: "Pa*m**3/s",
    Dimension.TORQUE: "N*m",
    Dimension.EXPANSION: "1/K",
    Dimension.FLOW: "kg/s",
    Dimension.HUMIDITY: "dimensionless",
    Dimension.CURRENT: "A",
    Dimension.VOLTAGE: "V",
}

_SUGGESTED = {
    Dimension.MASS: "g, kg, oz, lb",
    Dimension.VOLUME: "mL, L, cm³, fl oz (US), imp fl oz, in³",
    Dimension.LENGTH: "mm, cm, m, in",
    Dimension.AREA: "mm², cm², in²",
    Dimension.DENSITY: "g/mL, kg/m³, lb/gal (US)",
    Dimension.PRESSURE: "bar, kPa, MPa, psi",
    Dimension.TEMPERATURE: "°C, °F, K",
    Dimension.TEMPERATURE_DIFFERENCE: "K, °C, °F",
    Dimension.FORCE: "N, kN, lbf, kgf",
    Dimension.TIME: "s, min, h",
    Dimension.LEAK: "Pa m³/s, mbar L/s",
    Dimension.TORQUE: "N m, lbf in, lbf ft",
    Dimension.EXPANSION: "1/K, 1/°C, 1/°F",
    Dimension.FLOW: "g/s, kg/s, oz/s",
    Dimension.HUMIDITY: "%",
    Dimension.CURRENT: "mA, A",
    Dimension.VOLTAGE: "mV, V",
}


def _torques() -> dict[str, str]:
    """Return how torques are written: in either order, apart or joined, with or without an s."""
    forces = {"lbf": "lbf"} | dict.fromkeys(("lb", "lbs", "lbfs", "pound", "pounds"), "lbf")
    lengths = dict.fromkeys(("in", "inch"), "inch") | dict.fromkeys(("ft", "foot"), "foot")
    forces |= {"n": "N", "kn": "kN"}
    lengths |= {"m": "m", "cm": "cm"}
    found = {}
    for force, of in forces.items():
        for length, over in lengths.items():
            metric = {of in ("N", "kN"), over in ("m", "cm")}
            if len(metric) == 1:
                for text in (f"{force} {length}", f"{length} {force}", f"{force}{length}"):
                    found[text] = f"{of}*{over}"
                found[f"{length}{force}"] = f"{of}*{over}"
    return found


# Spellings that the library does not know or reads as something else (``fl oz`` as femtolitre
# ounces, ``F`` as farad). Compared in lower case when the spelling as typed is no unit.
_ALIASES = {
    Dimension.VOLUME: {
        "fl oz": "fluid_ounce",
        "fl. oz.": "fluid_ounce",
        "fl.oz.": "fluid_ounce",
        "us fl oz": "fluid_ounce",
        "fluid ounce": "fluid_ounce",
        "fluid ounces": "fluid_ounce",
        "imp fl oz": "imperial_fluid_ounce",
        "imp gal": "imperial_gallon",
        "imp pt": "imperial_pint",
        "us gal": "gallon",
        "cc": "cm**3",
        "ccm": "cm**3",
        "ml": "mL",
        "ML": "mL",
        "l": "L",
    },
    Dimension.MASS: {"g": "g", "kg": "kg", "oz": "oz", "lb": "lb", "lbs": "lb"},
    Dimension.LENGTH: {'"': "inch", "in": "inch", "mm": "mm"},
    Dimension.PRESSURE: {"psi": "psi", "bar": "bar", "mbar": "mbar", "kpa": "kPa"}
    | {"Mbar": "mbar", "hpa": "hPa"},
    Dimension.FORCE: {"n": "N", "kn": "kN", "lbf": "lbf", "kgf": "kgf"},
    Dimension.TORQUE: _torques(),
    Dimension.TEMPERATURE: {
        "c": "degC",
        "f": "degF",
        "°c": "degC",
        "°f": "degF",
        "deg c": "degC",
        "deg f": "degF",
        "° c": "degC",
        "° f": "degF",
    },
    Dimension.TEMPERATURE_DIFFERENCE: {
        "k": "K",
        "c": "K",
        "°c": "K",
        "degc": "K",
        "f": "degR",
        "°f": "degR",
        "degf": "degR",
    },
    Dimension.EXPANSION: {
        "/k": "1/K",
        "1/°c": "1/K",
        "1/degc": "1/K",
        "/°c": "1/K",
        "1/°f": "1/degR",
        "1/degf": "1/degR",
        "/°f": "1/degR",
    },
    Dimension.DENSITY: {"lb/gal (us)": "lb/gallon"},
    Dimension.HUMIDITY: {"%": "percent", "%rh": "percent", "% rh": "percent", "%rf": "percent"},
}


@dataclass(frozen=True, slots=True)
class _Display:
    """All that depends on a unit system; each unit stands beside the decimals it is shown with."""

    usual: Mapping[Dimension, tuple[str, int | None]]
    amount: tuple[str, int]
    """A mass from one of it on, where it says how much there is of something."""
    barometer: tuple[str, int]
    """The ambient pressure, as weather reports have it."""
    little: Mapping[Dimension, str]
    """A little more of something, to tell its consequence by."""


_METRIC: dict[Dimension, tuple[str, int | None]] = {
    Dimension.MASS: ("g", 1),
    Dimension.VOLUME: ("mL", 1),
    Dimension.LENGTH: ("mm", 2),
    Dimension.AREA: ("mm²", 1),
    Dimension.DENSITY: ("g/mL", 4),
    Dimension.PRESSURE: ("bar", 2),
    Dimension.TEMPERATURE: ("°C", 1),
    Dimension.TEMPERATURE_DIFFERENCE: ("K", 1),
    Dimension.FORCE: ("N", 0),
    Dimension.TIME: ("s", 1),
    Dimension.LEAK: ("Pa m³/s", None),
    Dimension.TORQUE: ("N m", 1),
    Dimension.EXPANSION: ("1/K", None),
    Dimension.FLOW: ("g/s", 1),
    Dimension.HUMIDITY: ("%", 0),
    Dimension.CURRENT: ("mA", 3),
    Dimension.VOLTAGE: ("V", 3),
}
_INCH_POUND = _METRIC | {
    Dimension.MASS: ("oz", 3),
    Dimension.VOLUME: ("fl oz", 2),
    Dimension.LENGTH: ("in", 3),
    Dimension.AREA: ("in²", 3),
    Dimension.PRESSURE: ("psi", 1),
    Dimension.TEMPERATURE: ("°F", 1),
    Dimension.TEMPERATURE_DIFFERENCE: ("°F", 1),
    Dimension.FORCE: ("lbf", 1),
    Dimension.TORQUE: ("lbf in", 1),
    Dimension.FLOW: ("oz/s", 2),
}
_DISPLAY = {
    UnitSystem.METRIC: _Display(
        usual=_METRIC,
        amount=("kg", 2),
        barometer=("hPa", 0),
        little={Dimension.VOLUME: "1 mL", Dimension.PRESSURE: "1 bar"},
    ),
    UnitSystem.INCH_POUND: _Display(
        usual=_INCH_POUND,
        amount=("lb", 2),
        barometer=("inHg", 2),
        little={Dimension.VOLUME: "0.1 fl oz", Dimension.PRESSURE: "10 psi"},
    ),
}
"""A further system is one more member of :class:`UnitSystem` and one more entry here."""

_QUANTITY = re.compile(
    r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
    r"(?:[eE][+-]?\d{1,3}|\s*[×x*]\s*10(?:\^[+-]?\d{1,3}|[⁻⁺]?[⁰¹²³⁴⁵⁶⁷⁸⁹]{1,3}))?)\s*(.*)",
    re.DOTALL,
)
_POWER = re.compile(r"\s*[×x*]\s*10\^?")
_JOINED = re.compile(r"[\s·⋅•∙.*×-]+")
"""What may stand between the two factors of a torque."""
# A product of names with one-digit powers; longer powers would only keep the library busy.
_FACTOR = r"°?[^\W\d]\w*(?:\^-?\d)?"
_UNIT_TEXT = re.compile(rf"(?:1?\s*/\s*)?{_FACTOR}(?:\s*[*/]\s*{_FACTOR}|\s+{_FACTOR})*")
_AMBIGUOUS_COMMA = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}(?:\s*[eE×x*].*)?")
_REFERENCED = re.compile(r"(.+?)[\s(]*(?:g|a|gauge|abs|absolute)\.?\)?", re.IGNORECASE)
_LONGEST_TEXT = 64

_registry_lock = threading.Lock()
_registry: "pint.UnitRegistry[float] | None" = None


def parse(text: str, dimension: Dimension, *, default_unit: str | None = None) -> float:
    """Return the SI value of ``0.25 L``, ``8.5 fl oz`` (US), ``150 psi``, ``68 °F`` and the like.

    A decimal comma is taken when it cannot be a thousands separator: ``0,32`` but not ``1,000``.
    A text without a unit is refused unless there is a ``default_unit``. Temperatures are absolute
    (K); for differences there is a dimension of its own. Raises :class:`UnitError`.
    """
    shown_text = text.strip()[:_LONGEST_TEXT]
    match = _QUANTITY.fullmatch(text.strip().replace("−", "-"))
    if not shown_text:
        raise _refused("Nothing is entered.", dimension, default_unit)
    if match is None or len(text.strip()) > _LONGEST_TEXT:
        raise _refused(f"'{shown_text}' is not a number with a unit.", dimension, default_unit)
    number, unit = match.groups()
    unit = " ".join(unit.split()) or default_unit or ""
    if not unit:
        raise _refused(f"'{shown_text}' has no unit.", dimension)
    if _AMBIGUOUS_COMMA.fullmatch(number):
        raise UnitError(
            f"'{shown_text}' may mean two numbers: the comma can be a decimal or a thousands mark.",
            advice="Write it with a decimal point, or without a mark.",
        )
    factor, offset = _conversion(unit, dimension, shown_text, default_unit)
    value = _without_noise(_number(number) * factor + offset)
    if not math.isfinite(value):
        raise _refused(f"'{shown_text}' is too large.", dimension, default_unit)
    if dimension is Dimension.TEMPERATURE and value < 0:
        raise _refused(f"'{shown_text}' is below absolute zero.", dimension, default_unit)
    return value


def in_typed_unit(
    value: float, text: str, dimension: Dimension, default_unit: str, *, digits: int = 4
) -> str:
    """Return an SI value as text in the unit that ``text`` was typed in, to so many digits.

    So that a refusal speaks of what stands in the field; ``text`` is one that :func:`parse` took.
    """
    match = _QUANTITY.fullmatch(text.strip().replace("−", "-"))
    unit = " ".join(match[2].split()) if match is not None else ""
    unit = unit or default_unit
    factor, offset = _conversion(unit, dimension, text)
    return f"{significant((value - offset) / factor, digits)} {unit}"


def conversion(unit: str, dimension: Dimension) -> tuple[float, float]:
    """Return factor and offset of a unit: value_si = number * factor + offset.

    Raises :class:`UnitError` for what is no unit of this dimension.
    """
    factor, offset = _conversion(" ".join(unit.split()), dimension, unit[:_LONGEST_TEXT])
    return _without_noise(factor), _without_noise(offset)


def display_unit(dimension: Dimension, system: UnitSystem) -> str:
    """Return the unit that values of ``dimension`` are shown in."""
    return _DISPLAY[system].usual[dimension][0]


def to_display(value: float, dimension: Dimension, system: UnitSystem) -> float:
    """Return an SI value in the display unit; not a number stays so."""
    factor, offset = _display_conversion(dimension, system)
    return (value - offset) / factor


def all_to_display(values: "FloatArray", dimension: Dimension, system: UnitSystem) -> "FloatArray":
    """Return SI values in the display unit."""
    factor, offset = _display_conversion(dimension, system)
    return (values - offset) / factor


def from_display(value: float, dimension: Dimension, system: UnitSystem) -> float:
    """Return the SI value of a number in the display unit."""
    factor, offset = _display_conversion(dimension, system)
    return value * factor + offset


def shown(
    value_si: float, dimension: Dimension, system: UnitSystem, *, decimals: int | None = None
) -> Shown:
    """Return an SI value as rounded text in the display unit.

    Without ``decimals`` each dimension has its own number of them; leak rates and expansion
    coefficients get three significant digits. A value that is not finite shows :data:`NO_VALUE`.
    """
    unit, usual = _DISPLAY[system].usual[dimension]
    value = to_display(value_si, dimension, system)
    if not math.isfinite(value):
        return Shown(NO_VALUE, unit, math.nan)
    digits = usual if decimals is None else decimals
    number = powered(value) if digits is None else fixed(value, digits)
    return Shown(number, unit, value)


def shown_amount(mass_kg: float, system: UnitSystem) -> Shown:
    """Return an amount as text, kg: a stock reads 49.18 kg or 108.41 lb, a fill 261.3 g.

    A reading, a target or a tolerance keeps :func:`shown`: it is compared with what a scale shows.
    """
    unit, decimals = _DISPLAY[system].amount
    factor, _ = _conversion(unit, Dimension.MASS, "")
    if not factor <= abs(mass_kg) < math.inf:
        return shown(mass_kg, Dimension.MASS, system)
    return Shown(fixed(mass_kg / factor, decimals), unit, mass_kg / factor)


def barometer_unit(system: UnitSystem) -> str:
    """Return the unit that the ambient pressure is shown and typed in."""
    return _DISPLAY[system].barometer[0]


def shown_barometer(pa: float, system: UnitSystem, *, decimals: int | None = None) -> Shown:
    """Return the ambient pressure as text, Pa: 1013 hPa or 29.92 inHg."""
    unit, usual = _DISPLAY[system].barometer
    value = pa / conversion(unit, Dimension.PRESSURE)[0]
    digits = usual if decimals is None else decimals
    return Shown(fixed(value, digits) if math.isfinite(value) else NO_VALUE, unit, value)


def little(dimension: Dimension, system: UnitSystem) -> tuple[float, str]:
    """Return a little of something in SI and in words, to tell its consequence by."""
    words = _DISPLAY[system].little[dimension]
    return parse(words, dimension), words


def next_system(system: UnitSystem) -> UnitSystem:
    """Return the system after this one; after the last comes the first."""
    systems = list(UnitSystem)
    return systems[(systems.index(system) + 1) % len(systems)]


def decimals_that_tell(step: float, dimension: Dimension, system: UnitSystem) -> int:
    """Return the fewest decimals of the display unit that tell values apart by ``step`` (SI)."""
    factor, _ = _display_conversion(dimension, system)
    return max(0, math.ceil(-math.log10(step / factor) - 1e-9))


def warm_up() -> None:
    """Build the unit tables now. For a start-up thread: the first use takes some 0.3 s."""
    for system in UnitSystem:
        for dimension in Dimension:
            _display_conversion(dimension, system)


def _number(text: str) -> float:
    """Return the number of ``8,1``, ``1e-6`` and ``1.2 × 10⁻⁶``."""
    mantissa, power = _POWER.sub("e", text, count=1), ""
    if "e" in mantissa:
        mantissa, _, power = mantissa.partition("e")
        power = "e" + unicodedata.normalize("NFKC", power).replace("−", "-")
    return float(mantissa.replace(",", ".") + power)


def _refused(what: str, dimension: Dimension, default_unit: str | None = None) -> UnitError:
    advice = f"Give a {dimension} as a number and a unit: {_SUGGESTED[dimension]}."
    if default_unit:
        advice += f" A number alone is in {default_unit}."
    return UnitError(what, advice=advice)


def _without_noise(value: float) -> float:
    """Return 0.86 g/mL as 860 and not 859.9999999999999, where the last bits are rounding only."""
    tidy = float(f"{value:.13g}")
    return tidy if math.isclose(tidy, value, rel_tol=1e-15) else value


@functools.cache
def _display_conversion(dimension: Dimension, system: UnitSystem) -> tuple[float, float]:
    return _conversion(display_unit(dimension, system), dimension, "")


def _conversion(
    unit: str, dimension: Dimension, text: str, default_unit: str | None = None
) -> tuple[float, float]:
    found = _find_conversion(unit, dimension)
    if found is not None:
        return found
    referenced = _REFERENCED.fullmatch(unit)
    if (
        dimension is Dimension.PRESSURE
        and referenced
        and _find_conversion(referenced[1].strip(), dimension)
    ):
        raise UnitError(
            f"'{text}' says gauge or absolute in the unit.",
            advice="Whether a pressure is gauge or absolute belongs to the field: "
            f"write {referenced[1].strip()} alone, as the field asks for.",
        )
    raise _refused(f"'{text}' is not a {dimension}.", dimension, default_unit)


@functools.lru_cache(maxsize=512)
def _find_conversion(unit: str, dimension: Dimension) -> tuple[float, float] | None:
    # Also turns the one-character degree Celsius and raised digits into plain ones.
    # The ordinal sign stands on keyboards where others have the degree sign.
    unit = unicodedata.normalize("NFKC", unit.replace("º", "°"))
    aliases = _ALIASES.get(dimension, {})
    if dimension is Dimension.TORQUE and (torque := aliases.get(_JOINED.sub(" ", unit).casefold())):
        return _from_library(torque, dimension)
    for candidate in (aliases.get(unit), unit, aliases.get(unit.casefold())):
        if candidate and (found := _from_library(candidate, dimension)):
            return found
    return None


def _from_library(unit: str, dimension: Dimension) -> tuple[float, float] | None:
    plain = re.sub(r"[·⋅]", "*", unit.replace("**", "^"))
    plain = re.sub(r"([^\W\d])([234])(?!\w)", r"\1^\2", plain)
    if not _UNIT_TEXT.fullmatch(plain) or "delta_" in plain:
        return None
    registry = _the_registry()
    try:
        parsed = registry.Unit(plain.replace("^", "**"))
        if parsed.dimensionality != registry.Unit(_SI[dimension]).dimensionality:
            return None
        zero = registry.Quantity(0.0, parsed).to(_SI[dimension]).magnitude
        # From a large number, so that the difference keeps its digits beside the offset.
        span = registry.Quantity(2.0**40, parsed).to(_SI[dimension]).magnitude
    except Exception:  # noqa: BLE001 - the library meets free text with whatever its parser trips on
        return None
    if zero and dimension is not Dimension.TEMPERATURE:
        return None
    factor = (span - zero) / 2.0**40
    return (float(factor), float(zero)) if math.isfinite(factor) and factor > 0 else None


def _the_registry() -> "pint.UnitRegistry[float]":
    global _registry
    with _registry_lock:
        if _registry is None:
            _registry = _new_registry()
        return _registry


def _new_registry() -> "pint.UnitRegistry[float]":
    import pint
    import platformdirs

    folder = platformdirs.user_cache_path("benchstation", appauthor=False) / "units"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        return pint.UnitRegistry(cache_folder=folder)
    except Exception:  # noqa: BLE001 - a cache that cannot be used or read must not stop the bench
        return pint.UnitRegistry()
