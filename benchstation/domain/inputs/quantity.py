"""A measured quantity, typed or taken from an instrument, against its limits."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar, Literal

from pydantic import model_validator

from benchstation.domain.content import Part, Recorded
from benchstation.domain.inputs.given import Given, PushForce, Taken
from benchstation.domain.inputs.limits import Limits, in_words, require_possible, spread_of
from benchstation.domain.refusals import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import Dimension, display_unit, parse

Measurable = Literal["length", "pressure", "force", "torque", "mass", "temperature"]
MEASURED = (
    Dimension.LENGTH,
    Dimension.PRESSURE,
    Dimension.FORCE,
    Dimension.TORQUE,
    Dimension.MASS,
    Dimension.TEMPERATURE,
)


class Source(StrEnum):
    """Where a measured value comes from."""

    TYPED = "typed"
    SCALE = "scale"
    GAUGE = "gauge"


_SOURCE_OF = {Source.SCALE: Dimension.MASS, Source.GAUGE: Dimension.PRESSURE}

_ABOUT = {
    "floating piston depth": Dimension.LENGTH,
    "gas length": Dimension.LENGTH,
    "push force": Dimension.FORCE,
}


@dataclass(frozen=True, slots=True)
class Measured(Recorded):
    """A measured value, SI, pressures gauge, with the limits it was judged by.

    ``reading`` is what an instrument gave, ``None`` where it was typed. ``expected`` is where the
    nominal comes from when it was computed for this unit.
    """

    input: str
    label: str
    value: float
    dimension: Measurable
    nominal: float | None = None
    tolerance: float | None = None
    source: str = Source.TYPED.value
    reading: Taken | None = None
    expected: PushForce | None = None
    type: Literal["quantity"] = "quantity"

    @property
    def limits(self) -> Limits | None:
        """Return the limits, ``None`` where the value was only recorded."""
        if self.nominal is None or self.tolerance is None:
            return None
        return Limits(self.nominal, self.tolerance, Dimension(self.dimension))

    @property
    def instruments(self) -> tuple[str, ...]:
        """Return the ids of the instruments that it rests on."""
        return (self.reading.instrument_id,) if self.reading else ()


class Measure(Part):
    """A value to be measured: typed, or taken from an instrument; SI, pressures gauge.

    Without ``nominal`` it is recorded only, unless ``reference`` says that the nominal is computed
    for this unit.
    """

    _LATER: ClassVar[frozenset[str]] = frozenset(
        {"nominal", "tolerance", "dimension", "source", "reference", "about", "type"}
    )
    noun: ClassVar[str] = "value"
    accepted_whole: ClassVar[bool] = False

    label: str
    nominal: float | None = None
    tolerance: float | None = None
    dimension: Measurable = "length"
    source: Source = Source.TYPED
    reference: Literal["", "push force"] = ""
    about: Literal["", "floating piston depth", "gas length", "push force", "own"] = ""
    """What the value is of, where it follows from other figures and must agree with them; ``own``:
    it does not, whatever its label says."""
    type: Literal["quantity"] = "quantity"

    @property
    def of(self) -> Dimension:
        """Return the dimension."""
        return Dimension(self.dimension)

    @model_validator(mode="before")
    @classmethod
    def _with_units(cls, content: object) -> object:
        if not isinstance(content, Mapping):
            return content
        name = content.get("dimension", "length")
        if name not in [d.value for d in MEASURED]:
            return content
        dimension = Dimension(name)
        units = {"nominal": dimension, "tolerance": spread_of(dimension)}
        return {
            key: _parsed(value, units[key]) if key in units and isinstance(value, str) else value
            for key, value in content.items()
        }

    @model_validator(mode="after")
    def _limits_make_sense(self) -> "Measure":
        if self.tolerance is not None and not (
            math.isfinite(self.tolerance) and self.tolerance > 0
        ):
            raise ValueError("tolerance must be above zero")
        least_is_zero = self.of is Dimension.PRESSURE
        if self.nominal is not None and not (
            math.isfinite(self.nominal)
            and (self.nominal >= 0 if least_is_zero else self.nominal > 0)
        ):
            raise ValueError("nominal must be above zero")
        if self.reference:
            if self.of is not Dimension.FORCE:
                raise ValueError("the push force needs dimension = 'force'")
            if self.nominal is not None:
                raise ValueError("the push force is computed for each unit: leave nominal out")
            if self.tolerance is None:
                raise ValueError("the push force needs a tolerance")
        elif (self.nominal is None) != (self.tolerance is None):
            raise ValueError("nominal and tolerance belong together: give both or none")
        if self.about not in ("", "own") and _ABOUT[self.about] is not self.of:
            raise ValueError(f"the {self.about} is no {self.of}")
        wanted = _SOURCE_OF.get(self.source)
        if wanted is not None and wanted is not self.of:
            raise ValueError(f"the {self.source.value} measures {wanted.value}, not {self.of}")
        return self

    def limits(self, expected: PushForce | None = None) -> Limits | None:
        """Return the limits; ``None`` where the value is only recorded, or not known yet."""
        nominal = expected.force_n if self.reference and expected else self.nominal
        if nominal is None or self.tolerance is None:
            return None
        return Limits(nominal, self.tolerance, self.of)

    def check(self, name: str, given: Given) -> Measured:
        """Return the measured value; outside its limits it is refused unless it was accepted.

        A number without a unit is taken in the unit that the limits are shown in. What is typed
        never stands in for an instrument's reading.
        """
        if self.reference and given.expected is None:
            raise NotAllowedError(
                "the expected push force is not known: there is no charge on record.",
                where=given.title,
                advice="Go back to the gas charge.",
            )
        reading = None if self.source is Source.TYPED else self._reading(given)
        if reading is None:
            unit = display_unit(self.of, given.units)
            value = parse(given.fields.get(name, ""), self.of, default_unit=unit)
            require_possible(value, self.of, given.units)
        else:
            value = reading.value
        expected = given.expected if self.reference else None
        limits = self.limits(expected)
        if limits is not None:
            require_within(limits, value, self.label, given)
        return Measured(
            name,
            self.label,
            value,
            self.dimension,
            limits.nominal if limits else None,
            limits.tolerance if limits else None,
            self.source.value,
            reading,
            expected,
        )

    def _reading(self, given: Given) -> Taken:
        if given.taken is None:
            raise NotAllowedError(
                f"the {self.source.value} gives no steady, valid reading.",
                where=given.title,
                advice="Hands off until it is steady; a missing reading is never taken.",
            )
        return given.taken


def require_within(limits: Limits, value: float, label: str, given: Given) -> None:
    """Raise for a value outside its limits that no deviation accepted."""
    if limits.holds(value) or given.accepted:
        return
    raise NotAllowedError(
        f"{label} is {in_words(value, limits.dimension, given.units)}, "
        f"allowed {limits.range_in_words(given.units)}.",
        where=given.title,
        advice="Set it again and measure, or have a lead accept a deviation.",
    )


def _parsed(text: str, dimension: Dimension) -> float:
    try:
        return parse(text, dimension)
    except StationError as error:
        raise ValueError(str(error)) from error
