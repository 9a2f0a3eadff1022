"""Check the options that a driver is made with: types, ranges, unknown names."""

import difflib
from collections.abc import Iterator, Mapping
from typing import Any

from benchstation.driver_api.contract import ChannelSpec
from benchstation.driver_api.errors import OptionError
from benchstation.driver_api.reading import PressureReference, Quantity


class Options:
    """Takes options out of a mapping one by one; :meth:`finish` refuses what is left.

    Every method raises :class:`OptionError` naming the option and what is allowed.
    """

    def __init__(self, options: Mapping[str, Any], where: str) -> None:
        if not isinstance(options, Mapping):
            raise OptionError(
                "the options are not a table.", where=where, advice="Correct the device profile."
            )
        self._left = dict(options)
        self._where = where

    def __contains__(self, name: str) -> bool:
        return name in self._left

    def text(self, name: str, default: str | None = None, *, longest: int = 64) -> str:
        """Take a text of 1 to ``longest`` characters."""
        value = self._take(name, default)
        if not isinstance(value, str) or not 1 <= len(value) <= longest:
            raise self.refused(name, f"a text of 1 to {longest} characters is required")
        return value

    def ascii(self, name: str, default: str | None = None, *, longest: int = 64) -> bytes:
        """Take a text of 1 to ``longest`` characters out of 7-bit ASCII, as bytes."""
        value = self.text(name, default, longest=longest)
        if not value.isascii():
            raise self.refused(name, "only ASCII characters are allowed")
        return value.encode("ascii")

    def choice(self, name: str, allowed: tuple[str, ...], default: str | None = None) -> str:
        """Take one of the ``allowed`` texts."""
        value = self._take(name, default)
        if not isinstance(value, str) or value not in allowed:
            raise self.refused(name, f"one of {', '.join(allowed)} is required")
        return value

    def integer(self, name: str, low: int, high: int, default: int | None = None) -> int:
        """Take a whole number from ``low`` to ``high``."""
        value = self._take(name, default)
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise self.refused(name, f"a whole number from {low} to {high} is required")
        return value

    def number(self, name: str, low: float, high: float, default: float | None = None) -> float:
        """Take a number from ``low`` to ``high``; not-a-number is out of any range."""
        value = self._take(name, default)
        if (
            isinstance(value, bool)
            or not isinstance(value, int | float)
            or not low <= value <= high
        ):
            raise self.refused(name, f"a number from {low:g} to {high:g} is required")
        return float(value)

    def flag(self, name: str, default: bool = False) -> bool:
        """Take true or false."""
        value = self._take(name, default)
        if not isinstance(value, bool):
            raise self.refused(name, "true or false is required")
        return value

    def table(self, name: str, *, required: bool = False) -> "Options":
        """Take a table, empty where there is none and it is not ``required``."""
        value = self._take(name, None if required else {})
        if not isinstance(value, Mapping):
            raise self.refused(name, "a table is required")
        return Options(value, f"{self._where}, {name}")

    def is_table(self, name: str) -> bool:
        """Return True when the option, not yet taken, is a table."""
        return isinstance(self._left.get(name), Mapping)

    def tables(self, name: str) -> list["Options"]:
        """Take a list of at least one table."""
        value = self._take(name, None)
        if not isinstance(value, list | tuple) or not value:
            raise self.refused(name, "a list of tables is required")
        return [Options(one, f"{self._where}, {name} {i}") for i, one in enumerate(value, 1)]

    def names(self) -> Iterator[str]:
        """Return the names not yet taken."""
        yield from tuple(self._left)

    def rest(self) -> dict[str, Any]:
        """Take all that is left, to be checked by someone else."""
        left, self._left = self._left, {}
        return left

    def value(self, name: str) -> Any:
        """Take a value as it is, to be checked by someone else."""
        return self._take(name, None)

    def finish(self) -> None:
        """Refuse options that nothing took."""
        if self._left:
            names = ", ".join(sorted(map(str, self._left)))
            raise OptionError(
                f"unknown option: {names}.",
                where=self._where,
                advice="Remove it or correct its spelling.",
            )

    def refused(self, name: str, why: str) -> OptionError:
        """Return the error for a value that is not allowed; the caller raises it."""
        return OptionError(
            f"option '{name}' is not allowed as given: {why}.",
            where=self._where,
            advice="Correct the device profile.",
        )

    def _take(self, name: str, default: Any) -> Any:
        value = self._left.pop(name, default)
        if value is None:
            near = difflib.get_close_matches(name, map(str, self._left), 1)
            meant = f"; '{near[0]}' stands there" if near else ""
            raise OptionError(
                f"option '{name}' is missing{meant}.",
                where=self._where,
                advice="Add it to the device profile.",
            )
        return value


def channel_from(options: Options) -> ChannelSpec:
    """Take the option table ``channel``: name, quantity, reference, low, high, resolution (SI)."""
    table = options.table("channel", required=True)
    big = 1e12
    quantity = Quantity(table.choice("quantity", tuple(Quantity)))
    pressure = quantity is Quantity.PRESSURE
    channel = ChannelSpec(
        name=table.text("name", quantity.value),
        quantity=quantity,
        reference=PressureReference(table.choice("reference", tuple(PressureReference)))
        if pressure
        else None,
        low=table.number("low", -big, big) if "low" in table else None,
        high=table.number("high", -big, big) if "high" in table else None,
        resolution=table.number("resolution", 0.0, big) if "resolution" in table else None,
    )
    table.finish()
    return channel
