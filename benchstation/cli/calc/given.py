"""What was given on the command line: options with dimension, range and default, read once.

A wrong one is refused in one line: the option, what was given, what is allowed.
"""

import argparse
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from benchstation.driver_api.errors import StationError
from benchstation.physics.errors import RangeError
from benchstation.quantities.units import (
    Dimension,
    UnitError,
    UnitSystem,
    in_typed_unit,
    parse,
    shown,
)

_QUANTITY = "quantity"
"""Under this name a parser's action keeps the option that it was declared for."""


@dataclass(frozen=True, slots=True)
class Option:
    """One option: its name, what it is, an example (whose unit a bare number takes), its range.

    ``low`` and ``high`` are texts such as ``1 mL``; without a dimension it is a plain number.
    ``default`` is used when it is not given; a missing one without default is refused when asked
    for by :meth:`Given.need`.
    """

    name: str
    help: str
    dimension: Dimension | None
    example: str
    low: str
    high: str
    default: str | None = None

    def add_to(self, parser: argparse.ArgumentParser | argparse._MutuallyExclusiveGroup) -> None:
        """Declare the option with its range and default in the help."""
        default = f"; {self.default} if not given" if self.default else ""
        allowed = f"{self.low} to {self.high}{default}".replace("%", "%%")
        action = parser.add_argument(
            f"--{self.name}", help=f"{self.help}, such as '{self.example}' ({allowed})"
        )
        vars(action)[_QUANTITY] = self

    def read(self, text: str) -> float:
        """Return the SI value of a text; raises :class:`UnitError` naming the option."""
        value, low, high = self._parsed(text), self._parsed(self.low), self._parsed(self.high)
        if not low <= value <= high:
            raise UnitError(
                f"'{text}' is out of range.",
                where=f"--{self.name}",
                advice=f"Allowed is {self._like(text, low)} to {self._like(text, high)}.",
            )
        return value

    def _like(self, text: str, value: float) -> str:
        """Return a limit in the unit that was typed."""
        if self.dimension is None:
            return f"{value:g}"
        return in_typed_unit(value, text, self.dimension, self.unit)

    @property
    def unit(self) -> str:
        """Return the unit that a bare number takes."""
        return self.example.split(" ", 1)[1]

    def _parsed(self, text: str) -> float:
        if self.dimension is None:
            try:
                return float(text.replace(",", "."))
            except ValueError:
                raise UnitError(
                    f"'{text}' is not a number.",
                    where=f"--{self.name}",
                    advice=f"Allowed is {self.low} to {self.high}.",
                ) from None
        try:
            return parse(text, self.dimension, default_unit=self.unit)
        except StationError as error:
            raise UnitError(error.what, where=f"--{self.name}", advice=error.advice) from error


def options_of(declare: Callable[[argparse.ArgumentParser], None]) -> list[Option]:
    """Return the quantities that a sheet declares, in their order."""
    parser = argparse.ArgumentParser(add_help=False)
    declare(parser)
    found = (vars(action).get(_QUANTITY) for action in parser._actions)  # noqa: SLF001
    return [option for option in found if isinstance(option, Option)]


class Given:
    """The options of one call, as SI values."""

    def __init__(self, texts: Mapping[str, str | None]) -> None:
        self._texts = texts
        self._typed: dict[Dimension, tuple[str, str]] = {}

    def has(self, option: Option) -> bool:
        """Return True when the option was given."""
        return self._texts.get(option.name) is not None

    def need(self, option: Option) -> float:
        """Return the value or the default; raises :class:`UnitError` when there is neither."""
        value = self.maybe(option)
        if value is None:
            raise UnitError(
                "is missing.", where=f"--{option.name}", advice=f"Give it like '{option.example}'."
            )
        return value

    def maybe(self, option: Option) -> float | None:
        """Return the value, the default, or None."""
        text = self._texts.get(option.name)
        if text is not None and option.dimension is not None:
            value = option.read(text)
            self._typed.setdefault(option.dimension, (text, option.unit))
            return value
        text = option.default if text is None else text
        return None if text is None else option.read(text)

    def shown(self, value: float, dimension: Dimension, system: UnitSystem) -> str:
        """Return a value in the unit that its dimension was typed in, else as it is displayed."""
        typed = self._typed.get(dimension)
        if typed is None:
            return str(shown(value, dimension, system))
        return in_typed_unit(value, typed[0], dimension, typed[1])

    def text(self, name: str) -> str | None:
        """Return an option that is no quantity, such as a file."""
        return self._texts.get(name)


_DIMENSIONS = {
    "Pa": Dimension.PRESSURE,
    "K": Dimension.TEMPERATURE,
    "m3": Dimension.VOLUME,
    "m": Dimension.LENGTH,
    "kg": Dimension.MASS,
    "kg/m3": Dimension.DENSITY,
    "N": Dimension.FORCE,
    "s": Dimension.TIME,
    "1/K": Dimension.EXPANSION,
}


def in_words(error: RangeError, system: UnitSystem, given: Given | None = None) -> UnitError:
    """Word a refusal of the physics in the units that were typed, else in the reader's."""
    dimension = _DIMENSIONS.get(error.unit)
    if dimension is Dimension.TEMPERATURE and "distance" in error.quantity:
        dimension = Dimension.TEMPERATURE_DIFFERENCE

    def text(value: float) -> str:
        if dimension is None:
            return f"{value:.6g} {error.unit}".removesuffix(" 1")
        return (given or Given({})).shown(value, dimension, system)

    limits = f"{text(error.low)} to {text(error.high)}"
    if math.isinf(error.high):
        limits = f"above {text(error.low)}"
    return UnitError(
        f"the {error.quantity} comes out as {text(error.given)}.", advice=f"Allowed is {limits}."
    )


def joined(arguments: Sequence[str]) -> list[str]:
    """Return the arguments with values such as ``-20degC`` tied to their option.

    The parser takes a text that starts with a minus for an option of its own.
    """
    tied: list[str] = []
    for argument in arguments:
        if tied and tied[-1].startswith("--") and re.match(r"[-−][\d.,]", argument):
            tied[-1] = f"{tied[-1]}={argument}"
        else:
            tied.append(argument)
    return tied
