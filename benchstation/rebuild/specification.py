"""A build specification: what one family of damper gets. Parsed once, then trusted; SI inside.

The TOML form takes any unit of the right dimension ("262 mL", "15 bar"); the stored form is JSON in
SI. Both go through the same model. A specification is refused when a limit contradicts another or
when its own fill lies outside the physical fill window.
"""

import hashlib
import tomllib
from enum import StrEnum
from typing import Annotated, Any, ClassVar, Literal

import rfc8785
from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    SerializerFunctionWrapHandler,
    ValidationError,
    model_serializer,
    model_validator,
)

from benchstation.driver_api.errors import StationError
from benchstation.misfits import in_words
from benchstation.physics.charge_window import ChargeWindow, charge_window
from benchstation.physics.damper import (
    ChargedDamper,
    DamperGeometry,
    DamperLimits,
    FillWindow,
    charged_to_specification,
    fill_window,
)
from benchstation.physics.oil import Oil
from benchstation.units import Dimension, parse


class SpecificationError(StationError):
    """A specification cannot be used as it stands; nothing of it was kept."""


def _quantity(dimension: Dimension) -> BeforeValidator:
    def read(value: object) -> object:
        try:
            return parse(value, dimension) if isinstance(value, str) else value
        except StationError as error:
            raise ValueError(str(error)) from error

    return BeforeValidator(read)


Mass = Annotated[float, _quantity(Dimension.MASS)]
Volume = Annotated[float, _quantity(Dimension.VOLUME)]
Length = Annotated[float, _quantity(Dimension.LENGTH)]
Pressure = Annotated[float, _quantity(Dimension.PRESSURE)]
Temperature = Annotated[float, _quantity(Dimension.TEMPERATURE)]
Seconds = Annotated[float, _quantity(Dimension.TIME)]
Leak = Annotated[float, _quantity(Dimension.LEAK)]
Force = Annotated[float, _quantity(Dimension.FORCE)]
Positive = Field(gt=0, allow_inf_nan=False)
NotNegative = Field(ge=0, allow_inf_nan=False)


class _Part(BaseModel):
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


class Geometry(_Part):
    """Sizes of the unit."""

    bore: Annotated[Length, Positive]
    rod: Annotated[Length, Positive]
    internal_length: Annotated[Length, Positive]
    stroke: Annotated[Length, Positive]
    floating_piston: Annotated[Length, Positive]
    hardware_volume: Annotated[Volume, NotNegative]
    piston_depth: Annotated[Length, NotNegative] = 0.0
    guide_depth: Annotated[Length, NotNegative] = 0.0
    gas_recess: Annotated[Volume, NotNegative] = 0.0

    def model(self) -> DamperGeometry:
        """Give the geometry model of the physics."""
        return DamperGeometry(
            bore_m=self.bore,
            rod_diameter_m=self.rod,
            internal_length_m=self.internal_length,
            stroke_m=self.stroke,
            floating_piston_thickness_m=self.floating_piston,
            hardware_volume_m3=self.hardware_volume,
            piston_depth_m=self.piston_depth,
            guide_depth_m=self.guide_depth,
            gas_recess_m3=self.gas_recess,
        )


class OilFill(_Part):
    """How much oil, at which temperature, and how far off it may be."""

    grade: str = Field(min_length=1)
    volume: Annotated[Volume, Positive]
    tolerance: Annotated[Volume, Positive]
    reference_temperature: Annotated[Temperature, Positive] = 293.15
    basis: Literal["reference", "as poured"] = "reference"
    bleed_allowance: Annotated[Volume, NotNegative] = 0.0
    """Poured on top and tipped out again at the bleed mark."""
    typical_rho15: Annotated[float, Field(gt=600, lt=1200)] = 860.0
    """Density in kg/m3 used for the window check before a lot is chosen."""


class GasCharge(_Part):
    """The charge at its reference temperature, rod fully out, gauge."""

    gauge_pressure: Annotated[Pressure, Positive]
    tolerance: Annotated[Pressure, Positive]
    reference_temperature: Annotated[Temperature, Positive] = 293.15
    high_warning: Annotated[Pressure, Positive]
    body_rating: Annotated[Pressure, Positive]
    release_zero_band: Annotated[Pressure, Positive] = 10_000.0
    settle_rate: Annotated[Pressure, Positive] = 300.0
    """The charge counts as settled when the fit says it moves by less than this, Pa per second."""
    hold_time: Annotated[Seconds, Positive] = 30.0
    allowed_leak: Annotated[Leak, Positive] = 1e-4


class Limits(_Part):
    """What must hold hot and cold; closes the fill window."""

    hot: Annotated[Temperature, Positive]
    cold: Annotated[Temperature, Positive]
    piston_room: Annotated[Length, NotNegative]
    """Least room between floating piston and gas end at full bump, hot."""
    piston_clearance: Annotated[Length, NotNegative]
    """Least clearance between floating piston and main piston at full bump, cold."""


class Steadiness(_Part):
    """When a stream of masses counts as steady."""

    window: Annotated[Seconds, Positive] = 1.5
    band: Annotated[Mass, Positive] = 0.0003
    count: int = Field(default=8, ge=3)
    tare_band: Annotated[Mass, Positive] = 0.0003


class Matching(_Part):
    """How far the units of one set may lie apart: largest less smallest; ``None``: not judged."""

    oil: Annotated[Volume, Positive] | None = None
    """Net oil, as volume at the reference temperature."""
    charge: Annotated[Pressure, Positive] | None = None
    """Charge, brought to the reference temperature with the same fill."""
    push_force: Annotated[Force, Positive] | None = None
    """Push force of the rod, fully out, at the reference temperature."""


class StepKind(StrEnum):
    """What a step asks for."""

    CONFIRM = "confirm"
    RELEASE = "release"
    MEASURE = "measure"
    WEIGH = "weigh"
    BLEED = "bleed"
    CHARGE = "charge"
    FILE = "file"


class NoteField(_Part):
    """A line of text that a step asks for."""

    id: str = Field(pattern=r"^[a-z][a-z0-9_]*$")
    label: str
    required: bool = False
    hint: str = ""


class Measure(_Part):
    """A length to be measured, with its limits."""

    label: str
    nominal: Annotated[Length, Positive]
    tolerance: Annotated[Length, Positive]


class Step(_Part):
    """One step of the route."""

    id: str = Field(pattern=r"^[a-z][a-z0-9_]*$")
    kind: StepKind
    title: str
    instruction: str
    cautions: tuple[str, ...] = ()
    confirmations: tuple[str, ...] = ()
    notes: tuple[NoteField, ...] = ()
    measure: Measure | None = None
    hold_point: bool = False

    @model_validator(mode="after")
    def _measure_has_limits(self) -> "Step":
        if (self.kind is StepKind.MEASURE) != (self.measure is not None):
            raise ValueError(f"step '{self.id}': a measure step, and only that, needs [measure]")
        return self


_ONCE = (StepKind.RELEASE, StepKind.WEIGH, StepKind.BLEED, StepKind.CHARGE, StepKind.FILE)


class Specification(_Part):
    """One revision of a build specification."""

    id: str = Field(pattern=r"^[a-z0-9][a-z0-9-]*$")
    revision: int = Field(ge=1)
    family: str = Field(min_length=1)
    title: str = Field(min_length=1)
    geometry: Geometry
    oil: OilFill
    gas: GasCharge
    limits: Limits
    steadiness: Steadiness = Steadiness()
    matching: Matching | None = None
    steps: tuple[Step, ...]
    _LATER: ClassVar[frozenset[str]] = frozenset({"matching"})

    @model_validator(mode="after")
    def _route_is_safe(self) -> "Specification":
        kinds = [step.kind for step in self.steps]
        ids = [step.id for step in self.steps]
        if len(set(ids)) != len(ids):
            raise ValueError("two steps have the same id")
        for kind in _ONCE:
            if kinds.count(kind) != 1:
                raise ValueError(f"the route needs exactly one '{kind}' step")
        order = [kinds.index(kind) for kind in _ONCE]
        if order != sorted(order) or kinds[-1] is not StepKind.FILE:
            raise ValueError("the order must be release, weigh, bleed, charge, file last")
        if self.gas.reference_temperature != self.oil.reference_temperature:
            raise ValueError("oil and gas need the same reference temperature")
        if self.gas.high_warning <= self.gas.gauge_pressure + self.gas.tolerance:
            raise ValueError("gas.high_warning must lie above the charge and its tolerance")
        return self

    def limits_model(self) -> DamperLimits:
        """Give the limits of the physics."""
        return DamperLimits(
            body_rating_gauge_pa=self.gas.body_rating,
            hot_limit_k=self.limits.hot,
            cold_limit_k=self.limits.cold,
            min_floating_piston_clearance_m=self.limits.piston_clearance,
            min_floating_piston_room_m=self.limits.piston_room,
        )

    def window(self, oil: Oil) -> FillWindow:
        """Give the least and the most oil, at the reference temperature, that keep all limits."""
        reference = self.oil.reference_temperature
        return fill_window(
            self.geometry.model(),
            self.limits_model(),
            charge_gauge_pa=self.gas.gauge_pressure,
            oil_alpha_per_k=oil.mean_expansion_per_k(reference, self.limits.hot),
            reference_k=reference,
            oil=oil,
        )

    def charge_window(self, oil: Oil) -> ChargeWindow:
        """Give the least and the most charge that keep all limits with the specified oil."""
        reference = self.oil.reference_temperature
        return charge_window(
            self.geometry.model(),
            self.limits_model(),
            oil_volume_m3=self.oil.volume,
            oil_alpha_per_k=oil.mean_expansion_per_k(reference, self.limits.hot),
            reference_k=reference,
            oil=oil,
        )

    def charged(self, oil: Oil, oil_volume_m3: float | None = None) -> ChargedDamper:
        """Give a unit charged as specified, with this much oil at the reference temperature."""
        reference = self.oil.reference_temperature
        return charged_to_specification(
            self.geometry.model(),
            charge_gauge_pa=self.gas.gauge_pressure,
            oil_volume_m3=self.oil.volume if oil_volume_m3 is None else oil_volume_m3,
            oil_alpha_per_k=oil.mean_expansion_per_k(reference, self.limits.hot),
            reference_k=reference,
            oil=oil,
        )

    def check_window(self) -> FillWindow:
        """Give the fill window; raise :class:`SpecificationError` when the own fill is outside."""
        window = self.window(Oil(self.oil.typical_rho15))
        low, high = self.oil.volume - self.oil.tolerance, self.oil.volume + self.oil.tolerance
        if window.contains(low) and window.contains(high):
            return window
        closed = [limit.value for limit in (window.least_closed_by, window.most_closed_by) if limit]
        raise SpecificationError(
            f"its fill of {self.oil.volume * 1e6:.1f} ± {self.oil.tolerance * 1e6:.1f} mL lies "
            f"outside the physical fill window of {window.least_m3 * 1e6:.1f} to "
            f"{window.most_m3 * 1e6:.1f} mL, closed by: {'; '.join(closed)}.",
            where=f"specification {self.id} revision {self.revision}",
            advice="Correct the fill, the charge or the sizes; nothing was stored.",
        )

    def step(self, step_id: str) -> Step:
        """Give a step by its id; raises ``KeyError``."""
        return next(step for step in self.steps if step.id == step_id)

    def step_of(self, kind: StepKind) -> Step:
        """Give the one step of a kind that occurs once."""
        return next(step for step in self.steps if step.kind is kind)

    def content(self) -> dict[str, Any]:
        """Give the JSON form, SI, as it is stored."""
        return self.model_dump(mode="json")

    def sha256(self) -> str:
        """Give the SHA-256 of the canonical JSON form (RFC 8785)."""
        return hashlib.sha256(rfc8785.dumps(self.content())).hexdigest()


def specification_from(content: dict[str, Any]) -> Specification:
    """Make a specification from its parsed TOML or JSON form and check its fill window.

    Raises :class:`SpecificationError` naming every field that is wrong.
    """
    name = str(content.get("id", "specification"))
    try:
        specification = Specification.model_validate(content)
    except ValidationError as error:
        raise SpecificationError(
            f"the specification has {error.error_count()} problem(s): {in_words(error)}.",
            where=name,
            advice="Correct the named fields; nothing was stored.",
        ) from error
    specification.check_window()
    return specification


def specification_from_toml(text: str, *, where: str = "specification") -> Specification:
    """Make a specification from TOML text; raises :class:`SpecificationError`."""
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SpecificationError(
            f"this is not TOML: {error}.", where=where, advice="Correct the text at that place."
        ) from error
    return specification_from(content)
