"""Setting up a bench from one TOML file: shop, people, instruments, oils and families.

The file is read whole and checked before anything is written. Running it again with changes adds
what is new: earlier facts stay in the journal.
"""

import tomllib
from datetime import UTC, date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    model_validator,
)

from benchstation.devices.profile import load_profile
from benchstation.driver_api.errors import StationError
from benchstation.misfits import in_words
from benchstation.people import hash_pin
from benchstation.rebuild.events import (
    Event,
    InstrumentRegistered,
    OilLotReceived,
    PersonEnrolled,
    SpecificationApproved,
)
from benchstation.rebuild.specification import specification_from_toml
from benchstation.settings import InstrumentSettings, Settings, own_profiles, parse_settings
from benchstation.store.engine import Store
from benchstation.units import Dimension, parse

LARGEST_FILE_BYTES = 1_000_000
EXAMPLE = "set-up-example.toml"


class SetUpError(StationError):
    """The set-up file cannot be used; nothing was changed."""


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class _Person(_Part):
    id: str = Field(pattern=r"^[a-z0-9][a-z0-9-]*$")
    name: str = Field(min_length=1, max_length=200)
    roles: tuple[Literal["technician", "lead", "qa"], ...] = Field(min_length=1)
    pin: str


def _uncertainty(value: object) -> object:
    if not isinstance(value, str):
        return value
    for dimension in (Dimension.MASS, Dimension.PRESSURE):
        try:
            return parse(value, dimension)
        except StationError:
            continue
    raise ValueError("is neither a mass nor a pressure, such as '0.03 g' or '30 mbar'")


class _Calibration(_Part):
    on: date
    until: date
    certificate: str = Field(min_length=1, max_length=200)
    u: Annotated[float, BeforeValidator(_uncertainty), Field(gt=0)]
    """Standard uncertainty, as '0.03 g' or '30 mbar'."""
    gain: float = Field(default=1.0, gt=0.5, lt=2.0)
    offset: float = 0.0
    """SI; added after the gain."""

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.until <= self.on:
            raise ValueError("'until' must be later than 'on'")
        return self


class _Instrument(_Part):
    id: str
    title: str = Field(min_length=1, max_length=200)
    profile: str
    url: str
    serial: str = ""
    calibration: _Calibration | None = None


class _Oil(_Part):
    lot: str = Field(min_length=1, max_length=64)
    oil: str = Field(min_length=1, max_length=200)
    density_15: Annotated[
        float,
        BeforeValidator(lambda v: parse(v, Dimension.DENSITY) if isinstance(v, str) else v),
        Field(gt=600, lt=1200),
    ]
    u_relative: float = Field(default=5e-4, gt=0, lt=0.1)
    expansion_per_k: float | None = Field(default=None, gt=0, lt=2e-3)
    source: str = Field(min_length=1, max_length=200)


class SetUp(_Part):
    """The whole file. ``bench`` holds fields of the settings; ``families`` are paths beside it."""

    bench: dict[str, Any]
    people: tuple[_Person, ...] = Field(min_length=1)
    instruments: dict[Literal["scale", "gauge"], _Instrument]
    oils: tuple[_Oil, ...] = ()
    families: tuple[str, ...] = ()


def example() -> str:
    """Give a commented file to start from."""
    return (files("resources") / EXAMPLE).read_text("utf-8")


def read_set_up(path: Path) -> tuple[Settings, list[Event]]:
    """Read and check a set-up file; gives the settings and the facts for the journal."""
    try:
        data = path.read_bytes()
        if len(data) > LARGEST_FILE_BYTES:
            raise ValueError("it is too large")
        set_up = SetUp.model_validate(tomllib.loads(data.decode("utf-8")))
    except ValidationError as error:
        raise _refused(path, in_words(error)) from error
    except (OSError, ValueError) as error:
        raise _refused(path, str(error)) from error
    ids = [person.id for person in set_up.people]
    if twice := {i for i in ids if ids.count(i) > 1}:
        raise _refused(path, f"two people have the id '{twice.pop()}'")
    if set(set_up.instruments) != {"scale", "gauge"}:
        raise _refused(path, "it needs [instruments.scale] and [instruments.gauge]")
    return _settings(set_up, path), _events(set_up, path)


def _refused(path: Path, why: str) -> SetUpError:
    return SetUpError(
        f"it cannot be used: {why}.", where=str(path), advice="Correct it; nothing was changed."
    )


def _settings(set_up: SetUp, path: Path) -> Settings:
    placed = {
        role: InstrumentSettings(id=i.id, profile=i.profile, url=i.url, serial=i.serial)
        for role, i in set_up.instruments.items()
    }
    for role, kind in (("scale", "mass"), ("gauge", "pressure")):
        own = [own_profiles()]
        profile = load_profile(placed[role].profile, own)  # type: ignore[index]
        if profile.kind != kind:
            raise _refused(path, f"the {role}'s profile '{profile.id}' is for {profile.kind}")
    settings = parse_settings({**set_up.bench, "instruments": placed}, where=str(path))
    if not settings.path_ratings:
        raise _refused(path, "[bench.path_ratings] must name at least one part and its rating")
    return settings


def _events(set_up: SetUp, path: Path) -> list[Event]:
    events: list[Event] = [
        PersonEnrolled(p.id, p.name, p.roles, hash_pin(p.pin)) for p in set_up.people
    ]
    events += [
        OilLotReceived(o.lot, o.oil, o.density_15, o.u_relative, o.expansion_per_k, o.source)
        for o in set_up.oils
    ]
    for name in set_up.families:
        file = path.parent / name
        try:
            text = file.read_text("utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise _refused(path, f"the family file {name} cannot be read ({error})") from error
        s = specification_from_toml(text, where=name)
        events.append(
            SpecificationApproved(
                s.id, s.revision, s.family, s.title, s.content(), s.sha256(), text
            )
        )
    events += [_registered(role, i) for role, i in set_up.instruments.items()]
    return events


def _registered(role: str, i: _Instrument) -> InstrumentRegistered:
    c = i.calibration
    return InstrumentRegistered(
        i.id,
        role,
        i.title,
        i.profile,
        i.serial,
        c.gain if c else 1.0,
        c.offset if c else 0.0,
        c.u if c else 0.0,
        c.on.isoformat() if c else "",
        c.until.isoformat() if c else "",
        c.certificate if c else "",
    )


def write_set_up(store: Store, events: list[Event]) -> int:
    """Journal what is not on record yet, and give how many facts that were."""
    known = [e.event for e in store.entries()]
    enrolled = {(e.person_id, e.name, e.roles) for e in known if isinstance(e, PersonEnrolled)}
    new: list[Event] = []
    for event in events:
        if isinstance(event, PersonEnrolled):
            # A PIN's hash is salted, so a person counts as known by name and roles; what was
            # changed at the bench since is not taken back by the old file.
            if (event.person_id, event.name, event.roles) in enrolled:
                continue
        elif event in known:
            continue
        if isinstance(event, SpecificationApproved):
            _refuse_changed(store, event)
        new.append(event)
    if new:
        store.append(new, person="set-up", utc=datetime.now(UTC))
    return len(new)


def _refuse_changed(store: Store, event: SpecificationApproved) -> None:
    old = store.specifications().get((event.specification_id, event.revision))
    if old is not None and old.content_sha256 != event.content_sha256:
        raise SetUpError(
            f"revision {event.revision} is on record with other content; nothing was changed.",
            where=event.specification_id,
            advice="A specification is never edited: give the new one a higher revision.",
        )
