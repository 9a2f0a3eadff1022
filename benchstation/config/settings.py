"""Settings of one bench: where things live, which instruments it has, what its path is rated for.

One JSON file, parsed once. Any quantity may be written with its unit (``"40 bar"``, ``"120 ft"``);
bare numbers are SI, as the station writes them. A file of an older form is upgraded when it is
read and rewritten only when it is saved. ``BENCHSTATION_HOME`` puts settings and data into one
folder; without it they go where the system wants them.
"""

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, Self
from urllib.parse import urlsplit

import platformdirs
from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    field_validator,
    model_validator,
)

from benchstation.atomic_file import put_in_place
from benchstation.config.settings_forms import VERSION, upgraded
from benchstation.domain.guard_limits import (
    LEAST_AGAIN_RISE,
    LEAST_AGAIN_S,
    MOST_AGAIN_RISE,
    MOST_AGAIN_S,
)
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.shop_chain import SHOP
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.outside_text import json_in, text_in
from benchstation.quantities.units import Dimension, UnitSystem, parse
from benchstation.quantities.validation_messages import first_place, in_words

HOME_VARIABLE = "BENCHSTATION_HOME"
LARGEST_FILE_BYTES = 1_000_000
GAUGES_PORT = "gauge"


class SettingsError(StationError):
    """Settings cannot be read or written; the file stays as it was."""


def _quantity(dimension: Dimension) -> BeforeValidator:
    def read(value: object) -> object:
        if isinstance(value, bool):
            raise ValueError("is not a number")
        try:
            return parse(value, dimension) if isinstance(value, str) else value
        except StationError as error:
            raise ValueError(str(error)) from error

    return BeforeValidator(read)


Id = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$")]
Words = Annotated[str, Field(max_length=200)]
KeyName = Annotated[str, Field(pattern=r"^([A-Za-z0-9]+\+)*[A-Za-z0-9]*$", max_length=30)]
Rating = Annotated[float, _quantity(Dimension.PRESSURE), Field(gt=0, le=1e8)]
ToolVolume = Annotated[float, _quantity(Dimension.VOLUME), Field(ge=0, le=1e-3)]
Barometer = Annotated[float, _quantity(Dimension.PRESSURE), Field(ge=50_000, le=110_000)]
Altitude = Annotated[float, _quantity(Dimension.LENGTH), Field(ge=-500, le=5_000)]
AgainRise = Annotated[float, Field(ge=LEAST_AGAIN_RISE, le=MOST_AGAIN_RISE)]
AgainAfter = Annotated[float, _quantity(Dimension.TIME), Field(ge=LEAST_AGAIN_S, le=MOST_AGAIN_S)]
SignOutAfter = Annotated[float, _quantity(Dimension.TIME), Field(ge=0, le=86_400)]
SecondAfter = Annotated[float, _quantity(Dimension.TIME), Field(ge=60, le=86_400)]
AirHolds = Annotated[float, _quantity(Dimension.TIME), Field(ge=300, le=86_400)]
RoomChange = Annotated[float, _quantity(Dimension.TEMPERATURE_DIFFERENCE), Field(ge=0.1, le=20)]
BenchTemperature = Annotated[float, _quantity(Dimension.TEMPERATURE), Field(ge=253.15, le=333.15)]


def _full(path: Path) -> Path:
    expanded = path.expanduser()
    if not expanded.is_absolute():
        raise ValueError("must be a full path, such as one that starts at the drive or root")
    return expanded


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class InstrumentSettings(_Part):
    """One instrument: its identity, its role, how it speaks, and where it is plugged in."""

    id: Id
    role: InstrumentRole
    profile: Id
    url: Annotated[str, Field(min_length=1, max_length=300)]
    """A port name, a URL such as ``socket://host:port``, or ``usb:VID:PID:SERIAL``."""
    serial: Words = ""
    use: Words = ""
    """What it is for, where a bench has several of a role: such as ``heavy units``."""


LampState = Literal["normal", "warning", "alarm", "acknowledged"]
"""What the guard says: nothing open; the high warning; the limit or the signal, unacknowledged;
only what somebody has acknowledged."""
Command = Annotated[str, Field(min_length=1, max_length=200)]


class LampLine(_Part):
    """One output line of a port: in which states it is energised, and how it stands on loss.

    Energised while all is normal and off on loss is the usual choice: then a pulled cable, a
    program that ended and a power cut look like an alarm.
    """

    steady: tuple[LampState, ...] = ("normal",)
    flash: tuple[LampState, ...] = ()
    fail_safe: Literal["off", "on"] = "off"
    """How it stands while the guard or its gauge is not heard, and at the end of the program."""

    @model_validator(mode="after")
    def _once(self) -> Self:
        if twice := set(self.steady) & set(self.flash):
            raise ValueError(f"'{twice.pop()}' is both steady and flashing")
        return self

    def shown(self, state: str) -> str:
        """Return ``on``, ``off`` or ``flash`` in a state; ``lost`` is the fail-safe side."""
        if state == "lost":
            return self.fail_safe
        return "flash" if state in self.flash else "on" if state in self.steady else "off"


class LampCommands(_Part):
    """What is sent to a lamp that takes commands, for each state; the line's end is part of it."""

    normal: Command
    warning: Command
    alarm: Command
    acknowledged: Command
    lost: Command

    @field_validator("*")
    @classmethod
    def _bytes(cls, value: str) -> str:
        if any(ord(character) > 255 for character in value):
            raise ValueError("has a character that is no single byte")
        return value

    def shown(self, state: str) -> str:
        """Return the command of a state."""
        return str(getattr(self, state))


class LampSettings(_Part):
    """A stack light or relay that follows the guard, by a port's lines or by commands."""

    url: Annotated[str, Field(min_length=1, max_length=300)]
    """A port or URL; ``gauge``: the lines of the gauge's own port."""
    rts: LampLine | None = None
    dtr: LampLine | None = None
    text: LampCommands | None = None
    baudrate: Annotated[int, Field(ge=50, le=4_000_000)] = 9600
    refresh_s: Annotated[float, Field(ge=0.2, le=60)] = 1.0
    """How often the state is sent again, for a lamp that was switched off and on."""

    @model_validator(mode="after")
    def _told_apart(self) -> Self:
        parts = [part for part in (self.rts, self.dtr, self.text) if part is not None]
        if not parts or (self.text is not None and len(parts) > 1):
            raise ValueError("give rts, dtr or both, or else text")
        if self.url == GAUGES_PORT and self.text is not None:
            raise ValueError("the gauge's port carries its own bytes: use its rts or dtr")
        for state in ("alarm", "lost"):
            if all(part.shown(state) == part.shown("normal") for part in parts):
                raise ValueError(f"the lamp would look the same when '{state}' as when 'normal'")
        return self


class Settings(_Part):
    """All settings of a bench; every field has a sound default."""

    version: Literal[2] = VERSION
    bench_id: Id = "bench-1"
    shop: Words = ""
    data_dir: Path | None = None
    """Absolute; ``None`` is the usual place, see :func:`default_data_dir`."""
    altitude_m: Altitude | None = None
    barometer_pa: Barometer | None = None
    """Absolute. At most one of altitude and barometer; neither is sea level."""
    air_holds_s: AirHolds = 3600.0
    """How long an air temperature that was typed counts."""
    barometer_holds_s: AirHolds = 4 * 3600.0
    """How long a barometer that was typed counts."""
    room_change_k: RoomChange = 2.0
    """How far the room may warm or cool in an hour: an older figure is less certain."""
    bench_temperature_k: BenchTemperature = 293.15
    instruments: tuple[InstrumentSettings, ...] = ()
    path_gauges: tuple[Id, ...] = ()
    """Gauges in the pressure path, by id: the guard judges each, and the first, in the fill line,
    measures the charge. Empty: the only one."""
    path_ratings: dict[Words, Rating] = Field(default_factory=dict)
    """What each part of the pressure path may bear, gauge Pa. The lowest is the high limit."""
    fill_tool_volume_m3: ToolVolume = 0.0
    """Dead volume of hose, gauge and valve body: it takes its share of the gas that is found."""
    alarm_again_rise: AgainRise = 0.05
    """An exceeded limit is heard again after each further rise by this share of it."""
    alarm_again_after_s: AgainAfter = 60.0
    """An acknowledged limit is heard again while it is still exceeded after this time."""
    lamp: LampSettings | None = None
    feed_port: Annotated[int, Field(ge=1024, le=65_535)] | None = None
    """TCP port on this machine where other programs may read; ``None`` is off."""
    photo_folder: Path | None = None
    """Where a camera or phone drops its pictures, absolute; its newest is taken by one key."""
    backup_folder: Path | None = None
    """A second place for copies of the records, on another disk, absolute; a copy goes there with
    each filing."""
    more_backup_folders: tuple[Path, ...] = ()
    """Further such places, absolute; a copy goes to each."""
    shop_url: Annotated[str, Field(max_length=500)] | None = None
    """Address of the shop's database with this bench's own login and without its password;
    ``None``: the bench belongs to no shop."""
    desk_url: Annotated[str, Field(max_length=500)] | None = None
    """The same for the window of the whole shop on this computer: another login."""
    theme: Literal["dark", "light"] = "dark"
    text_scale: Literal[100, 115, 130, 150] = 100
    """Size of the window's text in percent; Ctrl and plus or minus change it while it runs."""
    pedal_key: Annotated[str, Field(pattern=r"^([A-Za-z0-9]+\+)*[A-Za-z0-9]*$", max_length=30)] = (
        "F13"
    )
    """The key that a foot pedal types, for the primary action of a step; empty for none."""
    unit_system: UnitSystem = UnitSystem.METRIC
    daily_check: bool | Literal["scales and gauges"] = True
    """What needs its check each day before anything is captured with it: true is the scales with
    their check weight; the gauges too, with the zero of the open line; false is nothing."""
    start_of_day: bool = True
    """Whether who signs in sees what is still to be done today."""
    sign_out_after_s: SignOutAfter = 600.0
    """Without key, click or scan for so long the person is signed out; 0 for never."""
    second_signature_after_s: SecondAfter = 900.0
    """Where one person alone signs twice what takes two: how long after the first signature."""

    @property
    def backup_folders(self) -> tuple[Path, ...]:
        """Return all places for copies of the records."""
        first = (self.backup_folder,) if self.backup_folder is not None else ()
        return tuple(dict.fromkeys((*first, *self.more_backup_folders)))

    @property
    def checked_daily(self) -> tuple[str, ...]:
        """Return the roles of the instruments that need their check each day."""
        gauges = ("gauge",) if isinstance(self.daily_check, str) else ()
        return ("scale", *gauges) if self.daily_check else ()

    @field_validator("bench_id")
    @classmethod
    def _no_shop(cls, value: str) -> str:
        if value == SHOP:
            raise ValueError(f"no bench may be called '{SHOP}': the shop's own chain is")
        return value

    @field_validator("shop_url", "desk_url")
    @classmethod
    def _no_password(cls, value: str | None) -> str | None:
        if value is not None:
            parts = urlsplit(value)
            if parts.password is not None or "password" in parts.query:
                raise ValueError("must not hold the password; the keyring has it")
        return value

    @field_validator("data_dir", "photo_folder", "backup_folder")
    @classmethod
    def _absolute(cls, value: Path | None) -> Path | None:
        return None if value is None else _full(value)

    @field_validator("more_backup_folders")
    @classmethod
    def _all_absolute(cls, value: tuple[Path, ...]) -> tuple[Path, ...]:
        return tuple(_full(path) for path in value)

    @model_validator(mode="after")
    def _one_barometer(self) -> Self:
        if self.altitude_m is not None and self.barometer_pa is not None:
            raise ValueError("give altitude_m or barometer_pa, not both")
        return self

    @model_validator(mode="after")
    def _told_apart(self) -> Self:
        # A name becomes that of a file, and some systems take no note of capitals there.
        ids = [instrument.id.casefold() for instrument in self.instruments]
        if len(set(ids)) < len(ids):
            raise ValueError("two instruments have the same id")
        if self.lamp is not None and self.lamp.url in {i.url for i in self.instruments}:
            raise ValueError(f"lamp.url is an instrument's; write '{GAUGES_PORT}' for the gauge's")
        gauges = [gauge.id for gauge in self.of_role(InstrumentRole.GAUGE)]
        if len(set(self.path_gauges)) < len(self.path_gauges):
            raise ValueError("path_gauges names a gauge twice")
        for name in self.path_gauges:
            if name not in gauges:
                raise ValueError(f"path_gauges: there is no gauge '{name}'")
        if len(gauges) > 1 and not self.path_gauges:
            raise ValueError(
                f"path_gauges must name which of {' and '.join(gauges)} are in the pressure path, "
                "that in the fill line first"
            )
        return self

    def of_role(self, role: InstrumentRole) -> tuple[InstrumentSettings, ...]:
        """Return the instruments of a role, in the order of the file."""
        return tuple(i for i in self.instruments if i.role is role)

    @property
    def gauges_in_path(self) -> tuple[InstrumentSettings, ...]:
        """Return the gauges in the pressure path, that in the fill line first."""
        gauges = {gauge.id: gauge for gauge in self.of_role(InstrumentRole.GAUGE)}
        return tuple(gauges[name] for name in self.path_gauges) or tuple(gauges.values())

    def with_instrument(self, new: InstrumentSettings, instead_of: str = "") -> Self:
        """Return settings with an instrument in place of the one of that id, or beside the others.

        A gauge that is added comes last into the pressure path, so that the guard judges it too.
        """
        listed = [new if old.id == instead_of else old for old in self.instruments]
        path = [new.id if gauge.id == instead_of else gauge.id for gauge in self.gauges_in_path]
        if instead_of not in [old.id for old in self.instruments]:
            listed.append(new)
            path += [new.id] * (new.role is InstrumentRole.GAUGE)
        changed = {"instruments": [i.model_dump() for i in listed], "path_gauges": path}
        return type(self).model_validate({**self.model_dump(), **changed})

    @property
    def data_path(self) -> Path:
        """Return the folder of journal, traces and logs."""
        return self.data_dir or default_data_dir()


def default_settings_path() -> Path:
    """Return where the settings file is looked for."""
    home = _home()
    folder = home or platformdirs.user_config_path("benchstation", appauthor=False)
    return folder / "settings.json"


def home_folder() -> Path:
    """Return the folder of the settings, where the bench's key and its last heads are too."""
    return default_settings_path().parent


def own_profiles() -> Path:
    """Return the folder of the user's own device profiles, beside the settings."""
    return home_folder() / "profiles"


def profile_folders(also: Path | None = None) -> list[Path]:
    """Return the folders looked in beside the shipped profiles: the bench's own, and ``also``.

    A profile of a later folder is taken before one of the same name. Raises ``StationError`` where
    there is no folder ``also``.
    """
    if also is not None and not also.is_dir():
        raise StationError("there is no such folder.", where=str(also))
    return [own_profiles(), *([also] if also else [])]


def files_beside() -> dict[str, Path]:
    """Return the settings and the bench's own profiles, by their place in the folder of both.

    They hold no password; the bench's key is not among them.
    """
    settings, profiles = default_settings_path(), own_profiles()
    found = {settings.name: settings} if settings.is_file() else {}
    own = sorted(profiles.glob("*.toml")) if profiles.is_dir() else []
    return {**found, **{f"{profiles.name}/{file.name}": file for file in own}}


def default_data_dir() -> Path:
    """Return where data go when the settings do not say."""
    home = _home()
    return home / "data" if home else platformdirs.user_data_path("benchstation", appauthor=False)


def load_settings(path: Path | None = None) -> Settings:
    """Read settings; a file that is not there gives the defaults. Raises :class:`SettingsError`."""
    path = path or default_settings_path()
    try:
        if not path.exists():
            return Settings()
        text = text_in(path, LARGEST_FILE_BYTES)
    except (OSError, ValueError) as error:
        raise _unreadable(path, f"{error}.") from error
    try:
        data = json_in(text)
    except ValueError as error:
        raise _unreadable(path, f"it is not JSON ({error}).") from error
    if not isinstance(data, dict):
        raise _unreadable(path, "it is not a JSON object.")
    version = data.get("version", 1)
    if isinstance(version, int) and version > VERSION:
        raise SettingsError(
            f"the settings were written by a newer version (format {version}).",
            where=str(path),
            advice="Update this program; the file was left as it is.",
        )
    return parse_settings(upgraded(data), where=str(path))


def parse_settings(data: dict[str, Any], *, where: str = "settings") -> Settings:
    """Check settings given as plain data. Raises :class:`SettingsError` that names each field."""
    try:
        return Settings.model_validate(data)
    except ValidationError as error:
        raise SettingsError(
            f"{in_words(error)}.",
            where=where,
            advice="Correct the fields named; nothing was changed.",
            detail=str(error),
            field=first_place(error),
        ) from error


def with_changes(before: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """Return settings as plain data with changes: of altitude and barometer the newer one stays."""
    merged = {**before, **changes}
    if changes.get("altitude_m") is not None and changes.get("barometer_pa") is None:
        merged["barometer_pa"] = None
    elif changes.get("barometer_pa") is not None and changes.get("altitude_m") is None:
        merged["altitude_m"] = None
    return merged


def settings_text(settings: Settings) -> str:
    """Return settings as they are written."""
    return settings.model_dump_json(indent=2, exclude_none=True) + "\n"


def save_settings(settings: Settings, path: Path | None = None) -> Path:
    """Write settings whole or not at all, and give the path. Raises :class:`SettingsError`."""
    path = path or default_settings_path()
    text = settings_text(settings)
    temporary: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", dir=path.parent, prefix=".settings-", delete=False
        ) as file:
            temporary = Path(file.name)
            file.write(text)
        put_in_place(temporary, path)
    except OSError as error:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
        raise SettingsError(
            f"the settings cannot be written ({error.strerror}); the old ones stay in force.",
            where=str(path),
            advice="Check that the disk is not full and that you may write there.",
            detail=repr(error),
        ) from error
    return path


def _home() -> Path | None:
    value = os.environ.get(HOME_VARIABLE, "").strip()
    return Path(value).expanduser().absolute() if value else None


def _unreadable(path: Path, why: str) -> SettingsError:
    return SettingsError(
        f"the settings cannot be used: {why}",
        where=str(path),
        advice="Correct the file, or move it away to start with the defaults.",
    )
