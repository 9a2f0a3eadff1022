"""A device described as TOML: its line, its rate, its channel and its driver's options."""

import math
from collections.abc import Mapping, Sequence
from functools import cached_property
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr, ValidationError, model_validator

from benchstation.devices.profile_units import named, quantities_in, resolved
from benchstation.devices.registry import load_driver
from benchstation.devices.value_words import value_words
from benchstation.driver_api.contract import Driver, LineSettings
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.outside_text import toml_in
from benchstation.driver_api.reading import Reading
from benchstation.quantities.validation_messages import in_words

LARGEST_PROFILE_BYTES = 16_000
"""Far more than a profile needs; what the parser takes grows with the square of it."""


class ProfileError(StationError):
    """A profile is unknown or cannot be used."""


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Line(_Part):
    """Serial line settings."""

    baudrate: int = Field(default=9600, ge=50, le=4_000_000)
    bytesize: Literal[7, 8] = 8
    parity: Literal["N", "E", "O"] = "N"
    stopbits: Literal[1, 2] = 1


class Rate(_Part):
    """How often readings come, and how often a device that must be asked is asked."""

    expected_hz: float = Field(gt=0, le=1000)
    poll_hz: float | None = Field(default=None, gt=0, le=1000)


class Channel(_Part):
    """The range of the device, SI."""

    low: float | None = None
    high: float | None = None
    resolution: float | None = Field(default=None, gt=0)
    reference: Literal["gauge", "absolute"] | None = None


class Profile(_Part):
    """One device shape."""

    id: str = Field(pattern=r"^[a-z0-9][a-z0-9-]*$")
    title: str = Field(min_length=1)
    kind: Literal["mass", "pressure", "temperature", "humidity"]
    driver: str
    line: Line = Line()
    rate: Rate
    channel: Channel = Channel()
    options: dict[str, Any] = Field(default_factory=dict)
    _whole: "Profile | None" = PrivateAttr(default=None)

    @model_validator(mode="before")
    @classmethod
    def _quantities(cls, data: Any) -> Any:
        if isinstance(data, Mapping) and isinstance(data.get("channel"), Mapping):
            return {**data, "channel": quantities_in(data["channel"], data.get("kind"))}
        return data

    @property
    def further(self) -> frozenset[str]:
        """Return the channels that its line carries beside the profile's own."""
        return frozenset(self._values) - {self.kind}

    @property
    def _values(self) -> tuple[str, ...]:
        also = self.options.get("also")
        return (self.whole.kind, *(also if isinstance(also, Mapping) else ()))

    @property
    def whole(self) -> "Profile":
        """Return the profile of the whole line, which a further value of it was taken from."""
        return self._whole or self

    def of_value(self, kind: str) -> "Profile":
        """Return the profile for another value of its line. Raises :class:`ProfileError`."""
        if kind not in self.further:
            raise unusable(f"{self.id}.{kind}", f"its line carries no {kind}")
        known = set(Channel.model_fields)
        also = self._resolved["also"][kind]
        part = {name: value for name, value in also.items() if name in known}
        changed = {"id": f"{self.id}.{kind}", "title": f"{self.title}: {kind}", "kind": kind}
        made = self.model_copy(update={**changed, "channel": Channel(**part)})
        made._whole = self  # noqa: SLF001 - of its own class
        return made

    @property
    def interval_s(self) -> float:
        """Expected time between two readings."""
        return 1.0 / self.rate.expected_hz

    @property
    def line_settings(self) -> LineSettings:
        """Return the line's settings as the link takes them."""
        line = self.line
        return LineSettings(line.baudrate, line.bytesize, line.parity, line.stopbits)

    def make_driver(self) -> Driver:
        """Make a fresh driver; raises ``StationError`` for options that it does not take."""
        line = self.whole
        channel = {k: v for k, v in line.channel.model_dump().items() if v is not None}
        channel |= {"name": line.kind, "quantity": line.kind}
        try:
            return load_driver(self.driver)({**self._resolved, "channel": channel})
        except StationError as error:
            if not isinstance(error, ProfileError):
                error.where = f"profile {self.id}, {error.where}"
            raise

    @cached_property
    def _resolved(self) -> dict[str, Any]:
        """Return its options with factors for units; looked up once, since each reading asks."""
        try:
            return resolved(self.options, self.whole.kind, self.driver)
        except ValueError as error:
            raise unusable(self.id, f"options: {error}") from error

    def in_unit(self, reading: Reading) -> str:
        """Return a reading as the device shows it: in its own unit, with its digits."""
        if "source" in self.options:  # its unit is the signal's, not the value's
            return value_words(self.kind, reading.value)
        factor, offset = self._unit_of(reading)
        step = reading.resolution / factor if reading.resolution else None
        shown = (reading.value - offset) / factor
        number = f"{shown:.6g}" if step is None else f"{shown:.{_decimals_of(step)}f}"
        return f"{number} {reading.unit}"

    def _unit_of(self, reading: Reading) -> tuple[float, float]:
        options = self._resolved
        also = options.get("also", {})
        table = also.get(reading.channel, options)
        if "units" not in table:
            # A register's factor may be that of a part of its unit.
            return named(reading.unit, reading.channel) or (
                table.get("factor", 1.0),
                table.get("offset", 0.0),
            )
        unit = table["units"].get(reading.unit)
        if unit is None:
            return 1.0, 0.0
        return (unit["factor"], unit.get("offset", 0.0)) if isinstance(unit, dict) else (unit, 0.0)


def _decimals_of(step: float) -> int:
    """Return the decimals, at most 9, of numbers that go in steps of this: 2 for 0.05 and 0.25."""
    fewest = max(0, math.ceil(-math.log10(step) - 1e-9))
    steps = [(decimals, step * 10.0**decimals) for decimals in (fewest, fewest + 1)]
    whole = (decimals for decimals, one in steps if math.isclose(one, round(one), rel_tol=1e-6))
    return min(9, next(whole, fewest))


def _folders(extra: Sequence[Path]) -> list[Traversable]:
    return [files("resources") / "profiles", *extra]


def profile_ids(extra: Sequence[Path] = ()) -> list[str]:
    """Return the ids of all shipped profiles and those in the ``extra`` folders."""
    found = set()
    for folder in _folders(extra):
        if folder.is_dir():
            paths = [path for path in folder.iterdir() if path.name.endswith(".toml")]
            found |= {path.name[:-5] for path in paths if path.is_file()}
    return sorted(found)


def load_profile(profile_id: str, extra: Sequence[Path] = ()) -> Profile:
    """Read one profile; a later folder wins. Raises :class:`ProfileError` in words.

    ``ID.KIND`` is that for another value of the line that ``ID`` describes.
    """
    name, _, kind = profile_id.partition(".")
    _require_known(name, extra)
    profile = parse_profile(_path(name, extra), name)
    return profile.of_value(kind) if kind else profile


def share_a_line(one: str, other: str) -> bool:
    """Return True when two profile ids are for different values of one line."""
    return one != other and one.partition(".")[0] == other.partition(".")[0]


def _require_known(profile_id: str, extra: Sequence[Path]) -> None:
    known = profile_ids(extra)
    if profile_id not in known:
        raise ProfileError(
            f"there is no profile '{profile_id}'.",
            where="profiles",
            advice=f"Known are: {', '.join(known)}.",
        )


def profile_text(profile_id: str, extra: Sequence[Path] = ()) -> str:
    """Return the text that a profile is written as, be it good or bad."""
    profile_id = profile_id.partition(".")[0]
    _require_known(profile_id, extra)
    try:
        return _path(profile_id, extra).read_text("utf-8")
    except (OSError, ValueError) as error:
        raise unusable(profile_id, str(error)) from error


def _path(profile_id: str, extra: Sequence[Path]) -> Traversable:
    paths = [folder / f"{profile_id}.toml" for folder in _folders(extra)]
    return [path for path in paths if path.is_file()][-1]


def parse_profile(path: Traversable, profile_id: str) -> Profile:
    """Read a profile from its file, whose name is its id. Raises :class:`ProfileError`."""
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_PROFILE_BYTES + 1)
    except (OSError, ValueError) as error:
        raise unusable(profile_id, str(error)) from error
    return profile_from(data, profile_id)


def profile_from(text: bytes, profile_id: str) -> Profile:
    """Read a profile from its text. Raises :class:`ProfileError` that says what is wrong, where."""
    try:
        if len(text) > LARGEST_PROFILE_BYTES:
            raise ValueError("it is too large")
        profile = Profile.model_validate(toml_in(text.decode("utf-8")))
        if profile.id != profile_id:
            raise ValueError(f"its id is '{profile.id}', which is not the name of its file")
        return profile
    except ValidationError as error:
        raise unusable(profile_id, in_words(error)) from error
    except ValueError as error:
        raise unusable(profile_id, str(error)) from error
    except RecursionError as error:
        raise unusable(profile_id, "it is nested too deeply") from error


def unusable(profile_id: str, why: str) -> ProfileError:
    """Return the error that says why a profile cannot be used, in one line."""
    return ProfileError(
        f"it cannot be used: {' '.join(why.split()).rstrip('.')}.",
        where=f"profile {profile_id}",
        advice="Correct the file; nothing was changed.",
    )
