"""What is wrong with a specification, each at its field: one rule for text, form and set-up.

Fields are named by their place in the text: ``geometry.bore``, ``steps.9.measure.nominal``, counted
from 0 as a program does; the words name what a reader sees.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from benchstation.domain.inputs.quantity import Measure
from benchstation.driver_api.errors import StationError
from benchstation.physics.damper import DamperGeometry, FillWindow
from benchstation.physics.errors import RangeError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import significant
from benchstation.quantities.units import Dimension, display_unit, to_display
from benchstation.quantities.validation_messages import ValidationFailure, each_in_words


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong, at which field, and what to do; ``words`` are a whole sentence."""

    field: str
    words: str
    advice: str = ""


class SpecificationError(StationError):
    """A specification cannot be used as it stands; nothing of it was kept."""

    def __init__(
        self, what: str, *, where: str = "", advice: str = "", problems: tuple[Problem, ...] = ()
    ) -> None:
        field = next((problem.field for problem in problems), "")
        super().__init__(what, where=where, advice=advice, field=field)
        self.problems = problems


def of_shape(failure: ValidationFailure, content: object) -> tuple[Problem, ...]:
    """Return each value that does not fit, at its field; ``content`` is what was read."""
    found = []
    for place, said, words in each_in_words(failure):
        # Of an input of several kinds the place also has the kind: no field is called so.
        where = ".".join(str(p) for n, p in enumerate(place) if not _is_kind(place, n))
        sentence = f"{said}: {words}." if said else f"{words[:1].upper()}{words[1:]}."
        found.append(Problem(where or _named(words, content), sentence))
    return tuple(found)


_PLACE = re.compile(r"[a-z_]+(?:\.[a-z_]+)+")
_STEP = re.compile(r"step '([^']*)'")


def _named(words: str, content: object) -> str:
    """Return the field that a sentence about several of them names."""
    if words.startswith("oil and gas need the same"):
        return "gas.reference_temperature"
    if place := _PLACE.match(words):
        return place[0]
    steps = content.get("steps") if isinstance(content, Mapping) else None
    if not isinstance(steps, list):
        return ""
    named = _STEP.match(words)
    ids = [step.get("id") if isinstance(step, Mapping) else None for step in steps]
    return f"steps.{ids.index(named[1])}" if named and named[1] in ids else "steps"


def _is_kind(place: Sequence[object], n: int) -> bool:
    return n >= 2 and place[n - 2] == "inputs" and isinstance(place[n - 1], int)


_FIELD_OF = {
    "bore": "geometry.bore",
    "rod diameter": "geometry.rod",
    "internal length": "geometry.internal_length",
    "stroke": "geometry.stroke",
    "floating piston thickness": "geometry.floating_piston",
    "piston depth": "geometry.piston_depth",
    "guide depth": "geometry.guide_depth",
    "gas recess": "geometry.gas_recess",
    "hardware volume": "geometry.hardware_volume",
    "volume left for oil and gas with the rod fully in": "geometry.hardware_volume",
    "reference temperature": "oil.reference_temperature",
}
_DIMENSIONS = {"m": Dimension.LENGTH, "m3": Dimension.VOLUME, "K": Dimension.TEMPERATURE}


def of_range(error: RangeError, words: QuantityFormatter) -> Problem:
    """Return a size that no unit can have, at its field, in these units."""
    dimension = _DIMENSIONS.get(error.unit)
    if dimension is None:
        return Problem("", f"{error.what[:1].upper()}{error.what[1:]}")
    unit = display_unit(dimension, words.system)
    given, low, high = (
        significant(to_display(value, dimension, words.system), 4)
        for value in (error.given, error.low, error.high)
    )
    said = f"The {error.quantity} is {given} {unit}; it must be between {low} and {high} {unit}."
    return Problem(_FIELD_OF.get(error.quantity, ""), said)


def of_fill(
    window: FillWindow, volume_m3: float, tolerance_m3: float, words: QuantityFormatter
) -> Problem | None:
    """Return why a fill is none that keeps all limits; ``None``: it does."""
    if window.contains(volume_m3 - tolerance_m3) and window.contains(volume_m3 + tolerance_m3):
        return None
    closed = [limit.value for limit in (window.least_closed_by, window.most_closed_by) if limit]
    if window.is_empty:
        return Problem(
            "oil.volume",
            f"No fill fits: {' and '.join(closed)} cannot both hold.",
            "Correct the sizes, the charge or the limits.",
        )
    return Problem(
        "oil.volume",
        f"Its fill of {words.volume(volume_m3)} ± {words.volume(tolerance_m3)} lies outside the "
        f"physical fill window of {words.volume(window.least_m3)} to "
        f"{words.volume(window.most_m3)}, closed by: {'; '.join(closed)}.",
        "Correct the fill, the charge or the sizes.",
    )


PISTON_DEPTH, GAS_LENGTH, PUSH_FORCE = "floating piston depth", "gas length", "push force"


@dataclass(frozen=True, slots=True)
class Follows:
    """What the geometry, the specified fill and the charge give; nobody may specify another."""

    piston_depth_m: float
    """Tube's mouth to the floating piston's oil face, rod fully out."""
    gas_length_m: float
    """Gas end to the floating piston's gas face, rod fully out."""
    push_force_n: float
    """Rod fully out, at the reference temperature: gauge pressure times the rod's area."""
    depth_slack_m: float
    """How far the floating piston moves over the tolerance of the fill."""
    force_slack_n: float
    """How far the push force moves over the tolerance of the charge."""

    def value_of(self, subject: str) -> float | None:
        """Return what a subject must be, SI; ``None`` for one that does not follow."""
        return {
            PISTON_DEPTH: self.piston_depth_m,
            GAS_LENGTH: self.gas_length_m,
            PUSH_FORCE: self.push_force_n,
        }.get(subject)


def follows(
    geometry: DamperGeometry,
    *,
    oil_m3: float,
    oil_tolerance_m3: float,
    charge_gauge_pa: float,
    charge_tolerance_pa: float,
) -> Follows:
    """Return what follows from sizes, fill and charge, at the reference temperature, rod out."""
    gas = geometry.gas_volume_m3(oil_m3)
    return Follows(
        geometry.floating_piston_depth_m(gas),
        geometry.floating_piston_room_m(gas),
        geometry.push_force_n(charge_gauge_pa, 0.0),
        oil_tolerance_m3 / geometry.bore_area_m2,
        geometry.push_force_n(charge_tolerance_pa, 0.0),
    )


def subject_of(title: str, measure: Measure) -> str:
    """Return what a measured value is of, where that follows from other figures; else nothing.

    ``about`` says it. Where a text leaves it out, its own words tell: a depth of the floating
    piston is the same depth under any label that calls it so.
    """
    if measure.about:
        return "" if measure.about == OWN else measure.about
    said = f"{title} {measure.label}".casefold()
    if measure.of is Dimension.FORCE and not measure.reference:
        return PUSH_FORCE if "push force" in said or "rod force" in said else ""
    if measure.of is not Dimension.LENGTH:
        return ""
    if "gas length" in said or "length of the gas" in said:
        return GAS_LENGTH
    named = any(name in said for name in _FLOATING)
    return PISTON_DEPTH if named and "depth" in said else ""


OWN = "own"
_FLOATING = ("floating piston", "floating-piston", "dividing piston", "separating piston")


def of_measures(
    measures: Iterable[tuple[str, str, Measure]], given: Follows, words: QuantityFormatter
) -> tuple[Problem, ...]:
    """Return each stated value that other figures contradict; ``measures``: field, title, value.

    The two agree while a unit can meet both: fill or charge moves the value over its tolerance, and
    the value has its own. Of that one no more counts than of the other: a wide tolerance hides no
    other fill.
    """
    found = []
    for field, title, measure in measures:
        subject = subject_of(title, measure)
        value = given.value_of(subject)
        if value is None or measure.nominal is None or measure.tolerance is None:
            continue
        force = subject == PUSH_FORCE
        slack = given.force_slack_n if force else given.depth_slack_m
        if abs(measure.nominal - value) <= slack + min(measure.tolerance, slack):
            continue
        show, of = (words.force, "sizes and charge") if force else (words.length, "sizes and fill")
        found.append(
            Problem(
                f"{field}.nominal",
                f"'{measure.label}' says {show(measure.nominal)}; {of} give {show(value)}.",
                f"Write {show(value)}, or correct the figures that it follows from.",
            )
        )
    return tuple(found)
