"""Oils, specifications and instruments of the shop."""

from dataclasses import dataclass
from typing import Any, ClassVar

from benchstation.domain.events.base import Event
from benchstation.domain.events.instruments import CalibrationDetails
from benchstation.physics.oil import Oil


@dataclass(frozen=True, slots=True)
class OilLotReceived(Event):
    """An oil lot with its density at 15 degC from certificate or hydrometer.

    ``u_alpha_per_k`` is the standard uncertainty of the expansion coefficient and
    ``covariance_per_k`` its covariance with ln(density at 15 degC); ``None``: not written.
    """

    kind: ClassVar[str] = "oil.received"
    form: ClassVar[int] = 3
    lot: str
    oil: str
    rho15_kg_m3: float
    u_rho_rel: float
    alpha_per_k: float | None = None
    source: str = ""
    u_alpha_per_k: float | None = None
    covariance_per_k: float = 0.0
    supplier: str = ""
    until: str = ""
    """The last day of its use, ISO 8601; empty: none is stated."""

    @property
    def known(self) -> Oil:
        """Return the oil as physics takes it."""
        return Oil(
            self.rho15_kg_m3,
            self.alpha_per_k,
            self.u_rho_rel,
            self.u_alpha_per_k,
            self.covariance_per_k,
        )


@dataclass(frozen=True, slots=True)
class OilLotClosed(Event):
    """A lot is no longer offered for new units. ``why``: used up or withdrawn."""

    kind: ClassVar[str] = "oil.closed"
    lot: str
    why: str
    reason: str = ""


@dataclass(frozen=True, slots=True)
class SpecificationDrafted(Event):
    """A proposed revision as its author wrote it, TOML. A later draft of it takes its place."""

    kind: ClassVar[str] = "specification.drafted"
    specification_id: str
    revision: int
    source: str
    content_sha256: str


@dataclass(frozen=True, slots=True)
class SpecificationApproved(Event):
    """One revision of a build specification, whole, as JSON in SI. Never edited.

    ``source`` is the TOML it was written as, with its comments; empty where there was none.
    """

    kind: ClassVar[str] = "specification.approved"
    specification_id: str
    revision: int
    family: str
    title: str
    content: dict[str, Any]
    content_sha256: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class InstrumentRegistered(Event):
    """An instrument with the calibration in force from now on.

    ``calibration`` is what its certificate says in detail; ``None``: not written.
    """

    kind: ClassVar[str] = "instrument.registered"
    form: ClassVar[int] = 2
    instrument_id: str
    role: str
    title: str
    profile_id: str
    serial_number: str
    gain: float
    offset: float
    u_calibration: float
    calibrated_on: str
    calibrated_until: str
    certificate: str
    calibration: CalibrationDetails | None = None


@dataclass(frozen=True, slots=True)
class InstrumentChecked(Event):
    """Today's check: a check weight on the scale, or the zero of the open gauge line.

    ``zero`` is what the empty scale showed just before; ``None``: not written, or no scale.
    ``weight`` is the id of the registered weight, ``weight_error`` its permissible error in kg;
    empty and ``None``: no scale, or its mass was typed, before weights were registered.
    """

    kind: ClassVar[str] = "instrument.checked"
    form: ClassVar[int] = 3
    instrument_id: str
    check: str
    nominal: float
    observed: float
    tolerance: float
    passed: bool
    zero: float | None = None
    weight: str = ""
    weight_error: float | None = None


@dataclass(frozen=True, slots=True)
class CheckWithdrawn(Event):
    """A check that was made wrongly counts no more; ``entry`` is its number in the journal."""

    kind: ClassVar[str] = "instrument.check_withdrawn"
    instrument_id: str
    entry: int
    reason: str


@dataclass(frozen=True, slots=True)
class BenchSettingChanged(Event):
    """A setting of the bench that weighs on evidence, as plain data in SI; ``None``: not set.

    ``reason`` is empty where the settings file was found changed at a start.
    """

    kind: ClassVar[str] = "bench.setting_changed"
    setting: str
    before: str | float | bool | list[str] | dict[str, float] | None
    after: str | float | bool | list[str] | dict[str, float] | None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class BenchSetUpChanged(Event):
    """A lead signed the facts that follow, from a set-up of a bench that was founded already."""

    kind: ClassVar[str] = "bench.set_up_changed"
    reason: str


@dataclass(frozen=True, slots=True)
class InstrumentVirtual(Event):
    """The code of what speaks in an instrument's place from now on; empty: a device again."""

    kind: ClassVar[str] = "instrument.virtual"
    instrument_id: str
    what: str


@dataclass(frozen=True, slots=True)
class PaperWritten(Event):
    """A paper or file of a unit left the program: what it is, and the SHA-256 of its bytes.

    It belongs to no rebuild: what is on record of the unit does not change by it.
    """

    kind: ClassVar[str] = "paper.written"
    unit: str
    what: str
    sha256: str


@dataclass(frozen=True, slots=True)
class DayLineSigned(Event):
    """A line of the start of the day was seen to by a person, or put off for a reason.

    ``value`` is the figure that was read, SI, where the line asks for one.
    """

    kind: ClassVar[str] = "day.line"
    line: str
    put_off: bool
    note: str = ""
    value: float | None = None
