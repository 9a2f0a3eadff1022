"""What the models of a specification are made of: quantities with units, and their stored form."""

from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    SerializerFunctionWrapHandler,
    model_serializer,
)

from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import Dimension, parse


def quantity(dimension: Dimension) -> BeforeValidator:
    """Read text with any unit of the dimension; a bare number is SI."""

    def read(value: object) -> object:
        try:
            return parse(value, dimension) if isinstance(value, str) else value
        except StationError as error:
            raise ValueError(str(error)) from error

    return BeforeValidator(read)


Mass = Annotated[float, quantity(Dimension.MASS)]
Volume = Annotated[float, quantity(Dimension.VOLUME)]
Length = Annotated[float, quantity(Dimension.LENGTH)]
Pressure = Annotated[float, quantity(Dimension.PRESSURE)]
Temperature = Annotated[float, quantity(Dimension.TEMPERATURE)]
Seconds = Annotated[float, quantity(Dimension.TIME)]
Leak = Annotated[float, quantity(Dimension.LEAK)]
Force = Annotated[float, quantity(Dimension.FORCE)]
Density = Annotated[float, quantity(Dimension.DENSITY)]
Torque = Annotated[float, quantity(Dimension.TORQUE)]
Words = Annotated[str, Field(min_length=1, max_length=200)]
Positive = Field(gt=0, allow_inf_nan=False)
NotNegative = Field(ge=0, allow_inf_nan=False)


@dataclass(frozen=True, slots=True)
class Recorded:
    """Base of what an input leaves on record; read back, a field that is not known is refused."""

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")


class Part(BaseModel):
    """Base of all parts of a specification: frozen, and an unknown field is refused."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    _LATER: ClassVar[frozenset[str]] = frozenset()
    """Fields younger than the first journals: left out while at their default, so that a hash of
    before still holds."""

    @model_serializer(mode="wrap")
    def _content(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        content: dict[str, Any] = handler(self)
        fields = type(self).model_fields
        for name in self._LATER:
            if getattr(self, name) == fields[name].get_default(call_default_factory=True):
                del content[name]
        return content
