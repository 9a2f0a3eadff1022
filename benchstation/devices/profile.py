"""A device described as TOML: its line, its rate, its channel and its driver's options."""

import tomllib
from collections.abc import Sequence
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from benchstation.devices.registry import load_driver
from benchstation.driver_api.contract import Driver, LineSettings
from benchstation.driver_api.errors import StationError
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
    options: dict[str, Any]

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
        """Make a fresh driver; raises ``DriverError`` for options that it does not take."""
        channel = {k: v for k, v in self.channel.model_dump().items() if v is not None}
        channel |= {"name": self.kind, "quantity": self.kind}
        return load_driver(self.driver)({**self.options, "channel": channel})


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
    """Read one profile; a later folder wins. Raises :class:`ProfileError` in words."""
    known = profile_ids(extra)
    if profile_id not in known:
        raise ProfileError(
            f"there is no profile '{profile_id}'.",
            where="profiles",
            advice=f"Known are: {', '.join(known)}.",
        )
    return parse_profile(_path(profile_id, extra), profile_id)


def profile_text(profile_id: str, extra: Sequence[Path] = ()) -> str:
    """Return the text that a profile is written as."""
    load_profile(profile_id, extra)
    return _path(profile_id, extra).read_text("utf-8")


def _path(profile_id: str, extra: Sequence[Path]) -> Traversable:
    paths = [folder / f"{profile_id}.toml" for folder in _folders(extra)]
    return [path for path in paths if path.is_file()][-1]


def parse_profile(path: Traversable, profile_id: str) -> Profile:
    """Read a profile from its file, whose name is its id. Raises :class:`ProfileError`."""
    try:
        data = path.read_bytes()
        if len(data) > LARGEST_PROFILE_BYTES:
            raise ValueError("it is too large")
        profile = Profile.model_validate(tomllib.loads(data.decode("utf-8")))
        if profile.id != profile_id:
            raise ValueError(f"its id is '{profile.id}', which is not the name of its file")
        return profile
    except ValidationError as error:
        raise _unusable(profile_id, in_words(error)) from error
    except (ValueError, OSError) as error:
        raise _unusable(profile_id, str(error)) from error
    except RecursionError as error:
        raise _unusable(profile_id, "it is nested too deeply") from error


def _unusable(profile_id: str, why: str) -> ProfileError:
    return ProfileError(
        f"it cannot be used: {why}.",
        where=f"profile {profile_id}",
        advice="Correct the file; nothing was changed.",
    )
