"""The set-up file, TOML: a bench's shop, people, instruments, materials and families, read whole.

It gives settings and facts; ``bench.onboarding.set_up`` holds the profiles against them and puts
the facts on record.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any, Literal, Self, TypeVar

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationError,
    model_validator,
)

from benchstation.config.settings import InstrumentSettings, Settings, parse_settings, with_changes
from benchstation.domain.approval import why_not_yet
from benchstation.domain.events import (
    Event,
    InstrumentRegistered,
    MaterialReceived,
    OilLotReceived,
    PersonEnrolled,
    SpecificationApproved,
)
from benchstation.domain.inputs.limits import spread_of
from benchstation.domain.instrument_roles import NEEDED, InstrumentRole
from benchstation.domain.materials import Key, Sort
from benchstation.domain.people import hash_pin
from benchstation.domain.receiving import Described, material_of
from benchstation.domain.serials import serial_problem
from benchstation.domain.specification import specification_from_toml
from benchstation.domain.specification_text import content_of
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.outside_text import text_in, toml_in
from benchstation.quantities.formatter import day_of
from benchstation.quantities.units import Dimension, parse
from benchstation.quantities.validation_messages import first_place, in_words

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


class _Calibration(_Part):
    on: date
    until: date
    certificate: str = Field(min_length=1, max_length=200)
    u: float | str
    """Standard uncertainty, as '0.03 g', '30 mbar' or '0.2 K': what the role measures."""
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
    use: str = ""
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


class _Material(_Part):
    lot: str
    name: str
    source: str
    """Supplier, or where it comes from."""
    until: date | None = None
    certificate: str = ""


class _Numbered(_Material):
    number: str
    """As the specifications have it."""


class _Calibrated(_Part):
    id: str
    name: str
    source: str
    until: date
    certificate: str


class _Weight(_Calibrated):
    nominal: str
    weight_class: str = Field(alias="class")


def _several(value: object) -> object:
    return [value] if isinstance(value, Mapping) else value


_Instruments = Annotated[
    tuple[_Instrument, ...], BeforeValidator(_several), Field(min_length=1, max_length=20)
]
"""One table, or an array of them where the bench has several of the role."""


class SetUp(_Part):
    """The whole file. ``bench`` holds fields of the settings; ``families`` are paths beside it.

    On a bench that is set up already a part that is left out stays as it is.
    """

    bench: dict[str, Any] = Field(default_factory=dict)
    people: tuple[_Person, ...] = ()
    instruments: dict[InstrumentRole, _Instruments] = Field(default_factory=dict)
    oils: tuple[_Oil, ...] = ()
    weights: tuple[_Weight, ...] = ()
    wrenches: tuple[_Calibrated, ...] = ()
    kits: tuple[_Numbered, ...] = ()
    parts: tuple[_Numbered, ...] = ()
    families: tuple[str, ...] = ()


def example() -> str:
    """Return a commented file to start from."""
    return (files("resources") / EXAMPLE).read_text("utf-8")


def read_set_up(path: Path, known: Settings | None = None) -> tuple[Settings, list[Event]]:
    """Read and check a set-up file; gives the settings and the facts for the journal.

    ``known`` are the settings of a bench that is set up already.
    """
    try:
        table = toml_in(text_in(path, LARGEST_FILE_BYTES))
    except ValueError as error:
        raise refused(str(path)[:200], str(error)) from error
    return check_set_up(table, str(path), path.parent, known)


def check_set_up(
    table: Mapping[str, Any],
    where: str,
    folder: Path = Path(),
    known: Settings | None = None,
) -> tuple[Settings, list[Event]]:
    """Check what a set-up file holds; ``folder`` is where its families are.

    ``known`` are the settings of a bench that is set up already: what is left out stays.
    """
    set_up = _checked(SetUp, table, where)
    kept = known if known is not None and known.instruments else None
    ids = [person.id for person in set_up.people]
    if twice := {i for i in ids if ids.count(i) > 1}:
        raise refused(where, f"two people have the id '{twice.pop()}'")
    if kept is None and not set_up.people:
        raise refused(where, "it needs [[people]]: who works here")
    roles = {*set_up.instruments, *(i.role for i in (kept.instruments if kept else ()))}
    if not set(NEEDED) <= roles:
        raise refused(where, "it needs [instruments.scale] and [instruments.gauge]")
    names = [i.id for _, i in _placed_in(set_up)]
    if twice := {i for i in names if names.count(i) > 1}:
        raise refused(where, f"two instruments have the id '{twice.pop()}'")
    return _settings(set_up, where, kept), _events(set_up, where, folder)


def check_bench(table: Mapping[str, Any], where: str) -> Settings:
    """Check the fields of ``[bench]`` alone."""
    settings = parse_settings(dict(table), where=where)
    if not settings.path_ratings:
        raise refused(where, "[bench.path_ratings] must name at least one part and its rating")
    return settings


def check_person(table: Mapping[str, Any], where: str) -> PersonEnrolled:
    """Check one of ``[[people]]`` alone; the PIN becomes a salted hash."""
    return _enrolled(_checked(_Person, table, where))


def check_instrument(
    role: InstrumentRole, table: Mapping[str, Any], where: str
) -> tuple[InstrumentSettings, InstrumentRegistered]:
    """Check one of ``[instruments]`` alone."""
    part = _checked(_Instrument, table, where)
    return _placed(role, part, where), _registered(role, part, where)


_P = TypeVar("_P", bound=BaseModel)


def _checked(model: type[_P], table: Mapping[str, Any], where: str) -> _P:
    try:
        return model.model_validate(table)
    except ValidationError as error:
        raise refused(where, in_words(error), first_place(error)) from error


def refused(where: str, why: str, field: str = "") -> SetUpError:
    """Return the error that says why a set-up is not taken."""
    return SetUpError(
        f"it cannot be used: {why}.",
        where=where,
        advice="Correct it; nothing was changed.",
        field=field,
    )


def _placed_in(set_up: SetUp) -> list[tuple[InstrumentRole, _Instrument]]:
    """Return every instrument with its role, in the order of the file."""
    return [(role, i) for role, several in set_up.instruments.items() for i in several]


def _placed(role: InstrumentRole, i: _Instrument, where: str) -> InstrumentSettings:
    if problem := serial_problem(i.serial):
        raise refused(where, f"{i.id}: the serial {problem}", "serial")
    try:
        return InstrumentSettings(
            id=i.id, role=role, profile=i.profile, url=i.url, serial=i.serial, use=i.use
        )
    except ValidationError as error:
        raise refused(where, in_words(error), first_place(error)) from error


def _settings(set_up: SetUp, where: str, kept: Settings | None) -> Settings:
    placed = [_placed(role, i, where).model_dump() for role, i in _placed_in(set_up)]
    before = {} if kept is None else kept.model_dump(mode="json")
    stay = [i for i in before.get("instruments", ()) if i["role"] not in set_up.instruments]
    changed = with_changes(before, set_up.bench)
    return check_bench({**changed, "instruments": [*placed, *stay]}, where)


def _enrolled(person: _Person) -> PersonEnrolled:
    return PersonEnrolled(person.id, person.name, person.roles, hash_pin(person.pin))


def _events(set_up: SetUp, where: str, folder: Path) -> list[Event]:
    events: list[Event] = [_enrolled(person) for person in set_up.people]
    events += [
        OilLotReceived(o.lot, o.oil, o.density_15, o.u_relative, o.expansion_per_k, o.source)
        for o in set_up.oils
    ]
    events += _received(set_up, where)
    for name in set_up.families:
        file = folder / name
        try:
            text = text_in(file, LARGEST_FILE_BYTES)
        except ValueError as error:
            raise refused(where, f"the family file {name}: {error}") from error
        s = specification_from_toml(text, where=name)
        why = why_not_yet(content_of(text), s)
        if why:
            raise refused(where, f"{name}: {why}")
        events.append(
            SpecificationApproved(
                s.id, s.revision, s.family, s.title, s.content(), s.sha256(), text
            )
        )
    events += [_registered(role, i, where) for role, i in _placed_in(set_up)]
    return events


def _received(set_up: SetUp, where: str) -> list[Event]:
    """Return what was received; what has run out since stands on record so, and is not offered."""
    described = [(f"wrenches, {w.id}", _tool(Sort.WRENCH, w)) for w in set_up.wrenches]
    for w in set_up.weights:
        try:
            nominal = parse(w.nominal, Dimension.MASS)
        except StationError as error:
            raise refused(where, f"weights, {w.id}: {error}", "nominal") from error
        weight = replace(_tool(Sort.WEIGHT, w), nominal_kg=nominal, weight_class=w.weight_class)
        described.append((f"weights, {w.id}", weight))
    numbered = [(Sort.KIT, "kits", kit) for kit in set_up.kits]
    numbered += [(Sort.PART, "parts", part) for part in set_up.parts]
    for sort, called, m in numbered:
        until = m.until.isoformat() if m.until else ""
        one = Described(sort, m.number, m.lot, m.name, m.source, until, m.certificate)
        described.append((f"{called}, {m.lot}", one))
    events: list[Event] = []
    keys: set[Key] = set()
    for called, one in described:
        try:
            material = material_of(one, day_of(datetime.now(UTC)))
        except StationError as error:
            raise refused(where, f"{called}: {error.what} {error.advice}", error.field) from error
        if material.key in keys:
            raise refused(where, f"{called} is there twice")
        keys.add(material.key)
        events.append(MaterialReceived(material))
    return events


def _tool(sort: Sort, w: _Calibrated) -> Described:
    return Described(sort, "", w.id, w.name, w.source, w.until.isoformat(), w.certificate)


def _uncertainty(role: InstrumentRole, u: float | str, where: str) -> float:
    """Return a standard uncertainty of this role, SI."""
    try:
        value = parse(u, spread_of(role.dimension)) if isinstance(u, str) else u
    except StationError as error:
        raise refused(where, f"calibration.u: {error}", "u") from error
    if not value > 0.0:
        raise refused(where, "calibration.u must be greater than 0", "u")
    return value


def _registered(role: InstrumentRole, i: _Instrument, where: str) -> InstrumentRegistered:
    c = i.calibration
    return InstrumentRegistered(
        i.id,
        role.value,
        i.title,
        i.profile,
        i.serial,
        c.gain if c else 1.0,
        c.offset if c else 0.0,
        _uncertainty(role, c.u, where) if c else 0.0,
        c.on.isoformat() if c else "",
        c.until.isoformat() if c else "",
        c.certificate if c else "",
    )
