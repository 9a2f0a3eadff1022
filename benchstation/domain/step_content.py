"""What the kinds of steps carry in a specification: limits, options, parts, stacks, photos."""

import math
from collections.abc import Mapping
from enum import StrEnum
from typing import Annotated, ClassVar, Literal

from pydantic import Field, model_validator

from benchstation.domain.content import Length, NotNegative, Part, Positive, quantity
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import Dimension, parse

Torque = Annotated[float, quantity(Dimension.TORQUE)]
Words = Annotated[str, Field(min_length=1, max_length=200)]

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


def spread_of(dimension: Dimension) -> Dimension:
    """Return the dimension of a tolerance: that of a temperature is a difference."""
    if dimension is Dimension.TEMPERATURE:
        return Dimension.TEMPERATURE_DIFFERENCE
    return dimension


class Measure(Part):
    """A value to be measured: typed, or taken from an instrument; SI, pressures gauge.

    Without ``nominal`` it is recorded only, unless ``reference`` says that the nominal is computed
    for this unit.
    """

    _LATER: ClassVar[frozenset[str]] = frozenset(
        {"nominal", "tolerance", "dimension", "source", "reference"}
    )

    label: str
    nominal: float | None = None
    tolerance: float | None = None
    dimension: Literal["length", "pressure", "force", "torque", "mass", "temperature"] = "length"
    source: Source = Source.TYPED
    reference: Literal["", "push force"] = ""

    @property
    def of(self) -> Dimension:
        """The dimension."""
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
        wanted = _SOURCE_OF.get(self.source)
        if wanted is not None and wanted is not self.of:
            raise ValueError(f"the {self.source.value} measures {wanted.value}, not {self.of}")
        return self


def _parsed(text: str, dimension: Dimension) -> float:
    try:
        return parse(text, dimension)
    except StationError as error:
        raise ValueError(str(error)) from error


class TorqueOf(Part):
    """A fastener to be tightened to its torque, N m."""

    label: Words
    nominal: Annotated[Torque, Positive]
    tolerance: Annotated[Torque, Positive]
    tool: bool = True
    """Whether the wrench's id or serial is asked for."""


class Hold(StrEnum):
    """What choosing an option asks for."""

    NONE = ""
    QA = "qa"
    DEVIATION = "deviation"


class Option(Part):
    """One of the answers of a choice."""

    id: str = Field(pattern=r"^[a-z][a-z0-9_]*$")
    text: Words
    hold: Hold = Hold.NONE
    """``qa``: the unit goes to QA hold. ``deviation``: only a signed deviation goes on with it."""


class Choice(Part):
    """One of listed options."""

    label: Words
    options: tuple[Option, ...] = Field(min_length=2, max_length=20)

    @model_validator(mode="after")
    def _options_differ(self) -> "Choice":
        ids = [option.id for option in self.options]
        if len(set(ids)) < len(ids):
            raise ValueError("two options have the same id")
        if all(option.hold is Hold.DEVIATION for option in self.options):
            raise ValueError("every option needs a deviation: one must be in order")
        return self

    def option(self, option_id: str) -> Option | None:
        """Return an option by its id."""
        return next((o for o in self.options if o.id == option_id), None)


class FreeText(Part):
    """Text of several lines."""

    label: Words
    required: bool = False
    hint: str = ""


class PartLine(Part):
    """A part that goes in, and how many of it."""

    number: Words
    name: Words
    count: int = Field(default=1, ge=1, le=1000)
    lot: bool = True
    """Whether its lot is asked for; without one it is confirmed as fitted."""


class Disc(Part):
    """Equal discs that lie on each other, m."""

    outer: Annotated[Length, Field(gt=0, le=0.3, allow_inf_nan=False)]
    thickness: Annotated[Length, Field(gt=0, le=0.02, allow_inf_nan=False)]
    count: int = Field(default=1, ge=1, le=100)

    @property
    def height_m(self) -> float:
        """Height of all of them."""
        return self.thickness * self.count


class Stacks(Part):
    """Both disc stacks as specified, in order from the piston."""

    compression: tuple[Disc, ...] = Field(min_length=1, max_length=60)
    rebound: tuple[Disc, ...] = Field(min_length=1, max_length=60)
    hub: Annotated[Length, NotNegative] = 0.0
    """Inner diameter that the discs sit on, for the drawing; 0: not known."""

    def require_fits(self, bore_m: float) -> None:
        """Raise ``ValueError`` for a disc that is wider than the tube or narrower than its seat."""
        for name, discs in (("compression", self.compression), ("rebound", self.rebound)):
            for place, disc in enumerate(discs, 1):
                where = f"stacks.{name}, row {place}: {disc.outer * 1e3:.2f} mm"
                if disc.outer >= bore_m:
                    raise ValueError(f"{where} is not narrower than the bore")
                if disc.outer <= self.hub:
                    raise ValueError(f"{where} is not wider than the hub")


StackRecord = Literal["as found", "as built"]


class Photos(Part):
    """Photographs of this step."""

    label: Words
    least: int = Field(default=1, ge=0, le=12)
    most: int = Field(default=6, ge=1, le=12)
    hint: str = ""

    @model_validator(mode="after")
    def _in_order(self) -> "Photos":
        if self.least > self.most:
            raise ValueError("least is more than most")
        return self
