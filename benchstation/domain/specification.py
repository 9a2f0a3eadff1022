"""A build specification: what one family of damper gets. Parsed once, then trusted; SI inside.

The TOML form takes any unit of the right dimension ("262 mL", "15 bar"); the stored form is JSON in
SI. Both go through the same model. A specification is refused when a limit contradicts another or
when its own fill lies outside the physical fill window.
"""

import hashlib
from collections.abc import Iterator, Mapping
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal

import rfc8785
from pydantic import Field, ValidationError, model_validator

from benchstation.domain.content import (
    Density,
    Force,
    Leak,
    Length,
    Mass,
    NotNegative,
    Positive,
    Pressure,
    Seconds,
    Temperature,
    Volume,
)
from benchstation.domain.content import Part as _Part
from benchstation.domain.disc_stack import Stacks
from benchstation.domain.inputs.quantity import Measure
from benchstation.domain.inputs.registry import Asked, named
from benchstation.domain.inputs.second_reading import SecondReading
from benchstation.domain.inputs.stack import StackInput
from benchstation.domain.inputs.zero import FILL_LINE, UNIT, ZeroReading
from benchstation.domain.route_step import NoteField as NoteField
from benchstation.domain.route_step import Step as Step
from benchstation.domain.route_step import StepKind as StepKind
from benchstation.domain.specification_problems import (
    Follows,
    Problem,
    follows,
    of_fill,
    of_measures,
    of_range,
    of_shape,
)
from benchstation.domain.specification_problems import SpecificationError as SpecificationError
from benchstation.driver_api.outside_text import text_in, toml_in
from benchstation.physics.charge_window import ChargeWindow, charge_window
from benchstation.physics.damper import (
    ChargedDamper,
    DamperGeometry,
    DamperLimits,
    FillWindow,
    charged_to_specification,
    fill_window,
)
from benchstation.physics.errors import RangeError
from benchstation.physics.leak import YEAR_S
from benchstation.physics.oil import Oil
from benchstation.quantities.formatter import METRIC, QuantityFormatter

LARGEST_FILE_BYTES = 1_000_000
EXAMPLE_TABLE = "example"
"""A table of the text that is none of the specification: what is still the example's."""


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
        """Return the geometry model of the physics."""
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


class Method(StrEnum):
    """How the oil is weighed in: what stands on the scale."""

    GAIN = "gain"
    """The open body, tared; oil is poured into it."""
    LOSS = "loss"
    """The jug, tared; oil is poured out of it."""
    DIFFERENCE = "difference"
    """The whole unit, before and after; the scale is free in between."""


class OilFill(_Part):
    """How much oil, at which temperature, and how far off it may be."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"method", "unit_mass"})

    grade: str = Field(min_length=1)
    volume: Annotated[Volume, Positive]
    tolerance: Annotated[Volume, Positive]
    reference_temperature: Annotated[Temperature, Positive] = 293.15
    basis: Literal["reference", "as poured"] = "reference"
    bleed_allowance: Annotated[Volume, NotNegative] = 0.0
    """Poured on top and tipped out again at the bleed mark."""
    typical_rho15: Annotated[Density, Field(gt=600, lt=1200)] = 860.0
    """Density in kg/m3 used for the window check before a lot is chosen."""
    method: Method = Method.GAIN
    unit_mass: Annotated[Mass, Positive] | None = None
    """About what the unit weighs without its oil: a scale rated for it is chosen."""


class Service(_Part):
    """How much charge a unit may lose in how much of its service; its leak rate follows."""

    lost: Annotated[Pressure, Positive]
    within: Annotated[Seconds, Positive] = YEAR_S


UNSTATED_LEAK = 1e-4
"""The allowed leak of a specification that states none."""


class GasCharge(_Part):
    """The charge at its reference temperature, rod fully out, gauge."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"service"})

    gauge_pressure: Annotated[Pressure, Positive]
    tolerance: Annotated[Pressure, Positive]
    reference_temperature: Annotated[Temperature, Positive] = 293.15
    high_warning: Annotated[Pressure, Positive]
    body_rating: Annotated[Pressure, Positive]
    release_zero_band: Annotated[Pressure, Positive] = 10_000.0
    settle_rate: Annotated[Pressure, Positive] = 300.0
    """The charge counts as settled when the fit says it moves by less than this, Pa per second."""
    hold_time: Annotated[Seconds, Positive] = 30.0
    allowed_leak: Annotated[Leak, Positive] = UNSTATED_LEAK
    """The hold test is judged by it; not stated, it is that of the service, where there is one."""
    service: Service | None = None

    def under_pressure(self, gauge_pa: float | None) -> bool:
        """Return True when a gauge shows more than the zero band; no reading (``None``), never."""
        return gauge_pa is not None and gauge_pa > self.release_zero_band


class Limits(_Part):
    """What must hold hot and cold; closes the fill window."""

    _LATER: ClassVar[frozenset[str]] = frozenset({"rebound_force"})

    hot: Annotated[Temperature, Positive]
    cold: Annotated[Temperature, Positive]
    piston_room: Annotated[Length, NotNegative]
    """Least room between floating piston and gas end at full bump, hot."""
    piston_clearance: Annotated[Length, NotNegative]
    """Least clearance between floating piston and main piston at full bump, cold."""
    rebound_force: Annotated[Force, Positive] | None = None
    """Largest force of the valves in rebound: the rod side bears it on top of the gas."""


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
    stacks: Stacks | None = None

    _LATER: ClassVar[frozenset[str]] = frozenset({"matching", "stacks"})

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
        if StepKind.SECOND in kinds[:-2]:
            raise ValueError("a 'second_reading' step stands just before 'file', and once")
        service = self.gas.service
        if service is not None and service.lost >= self.gas.gauge_pressure:
            raise ValueError("gas.service.lost must be less than the charge")
        if self.gas.high_warning <= self.gas.gauge_pressure + self.gas.tolerance:
            raise ValueError("gas.high_warning must lie above the charge and its tolerance")
        charged = kinds.index(StepKind.CHARGE)
        for place, step in enumerate(self.steps):
            asked = [one.input for one in step.asked]
            if self.stacks is None and any(isinstance(one, StackInput) for one in asked):
                raise ValueError(f"step '{step.id}' records a disc stack, but [stacks] is missing")
            if place > charged and any(
                isinstance(o, ZeroReading) and o.place == UNIT for o in asked
            ):
                raise ValueError(f"step '{step.id}': after the charge a unit shows no zero")
            if place < charged and any(isinstance(o, Measure) and o.reference for o in asked):
                raise ValueError(f"step '{step.id}': the push force is known after the charge only")
        if self.stacks is not None:
            self.stacks.require_fits(self.geometry.bore)
        return self

    def limits_model(self) -> DamperLimits:
        """Return the limits of the physics."""
        return DamperLimits(
            body_rating_gauge_pa=self.gas.body_rating,
            hot_limit_k=self.limits.hot,
            cold_limit_k=self.limits.cold,
            min_floating_piston_clearance_m=self.limits.piston_clearance,
            min_floating_piston_room_m=self.limits.piston_room,
            max_rebound_force_n=self.limits.rebound_force,
        )

    def window(self, oil: Oil) -> FillWindow:
        """Return the least and the most oil, at the reference temperature, that keep all limits."""
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
        """Return the least and the most charge that keep all limits with the specified oil."""
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
        """Return a unit charged as specified, with this much oil at the reference temperature."""
        reference = self.oil.reference_temperature
        return charged_to_specification(
            self.geometry.model(),
            charge_gauge_pa=self.gas.gauge_pressure,
            oil_volume_m3=self.oil.volume if oil_volume_m3 is None else oil_volume_m3,
            oil_alpha_per_k=oil.mean_expansion_per_k(reference, self.limits.hot),
            reference_k=reference,
            oil=oil,
        )

    def problems(self, words: QuantityFormatter = METRIC) -> tuple[Problem, ...]:
        """Return the fill that keeps no limits, and what its other figures contradict."""
        fill = self.oil
        window = self.window(Oil(fill.typical_rho15))
        outside = of_fill(window, fill.volume, fill.tolerance, words)
        return (outside,) if outside else of_measures(self._measures(), self.follows(), words)

    def follows(self) -> Follows:
        """Return what follows from its sizes, its fill and its charge."""
        return follows(
            self.geometry.model(),
            oil_m3=self.oil.volume,
            oil_tolerance_m3=self.oil.tolerance,
            charge_gauge_pa=self.gas.gauge_pressure,
            charge_tolerance_pa=self.gas.tolerance,
        )

    def _measures(self) -> Iterator[tuple[str, str, Measure]]:
        for n, step in enumerate(self.steps):
            if step.measure is not None:
                yield f"steps.{n}.measure", step.title, step.measure
            for k, one in enumerate(step.inputs):
                if isinstance(one, Measure):
                    yield f"steps.{n}.inputs.{k}", step.title, one

    def check_window(self) -> FillWindow:
        """Return fill window; raise :class:`SpecificationError` when the own fill is outside."""
        window = self.window(Oil(self.oil.typical_rho15))
        outside = of_fill(window, self.oil.volume, self.oil.tolerance, METRIC)
        if outside is not None:
            raise _refused({"id": self.id}, (outside,))
        return window

    @property
    def service_leak(self) -> float:
        """Return the leak rate that service allows, Pa m3/s: the second reading is judged by it.

        What may be lost leaves the gas volume of the specified fill: q = V lost / within.
        """
        service = self.gas.service
        if service is None:
            return self.gas.allowed_leak
        volume = self.geometry.model().gas_volume_m3(self.oil.volume)
        return volume * service.lost / service.within

    @property
    def hold_leak(self) -> float:
        """Return the leak rate that the hold test is judged by, Pa m3/s."""
        stated = self.gas.service is None or self.gas.allowed_leak != UNSTATED_LEAK
        return self.gas.allowed_leak if stated else self.service_leak

    @property
    def second_reading(self) -> SecondReading | None:
        """Return how a unit is read again at the end of its route; ``None``: it is not."""
        return next((step.second for step in self.steps if step.second is not None), None)

    def step(self, step_id: str) -> Step:
        """Return a step by its id; raises ``KeyError``."""
        return next(step for step in self.steps if step.id == step_id)

    def step_of(self, kind: StepKind) -> Step:
        """Return the one step of a kind that occurs once."""
        return next(step for step in self.steps if step.kind is kind)

    @property
    def seal_off(self) -> Step | None:
        """Return the step at which the fill line is let down; ``None`` where the route has none.

        It is the first confirm step after the charge, by its place: every revision has it there.
        """
        kinds = [step.kind for step in self.steps]
        after = self.steps[kinds.index(StepKind.CHARGE) + 1 :]
        return next((step for step in after if step.kind is StepKind.CONFIRM), None)

    def asked_at(self, step: Step) -> tuple[Asked, ...]:
        """Return what a step asks for; the seal-off has the fill line's gauge read besides."""
        sealing = self.seal_off
        if sealing is None or step.id != sealing.id:
            return step.asked
        return named((ZeroReading(place=FILL_LINE), *(one.input for one in step.asked)))

    def content(self) -> dict[str, Any]:
        """Return the JSON form, SI, as it is stored."""
        return self.model_dump(mode="json")

    def sha256(self) -> str:
        """Return the SHA-256 of the canonical JSON form (RFC 8785)."""
        return hashlib.sha256(rfc8785.dumps(self.content())).hexdigest()


def specification_from(content: dict[str, Any]) -> Specification:
    """Make a specification from its parsed TOML or JSON form and check its fill window.

    Raises :class:`SpecificationError` naming every field that is wrong.
    """
    specification, problems = _read(content, METRIC)
    if specification is None:
        raise _refused(content, problems)
    specification.check_window()
    return specification


def judged(
    content: Mapping[str, Any], words: QuantityFormatter = METRIC
) -> tuple[Specification | None, tuple[Problem, ...]]:
    """Return what a text says, and everything that is wrong with it; ``None``: it says no unit."""
    specification, problems = _read(content, words)
    return specification, problems if specification is None else specification.problems(words)


def _read(
    content: Mapping[str, Any], words: QuantityFormatter
) -> tuple[Specification | None, tuple[Problem, ...]]:
    said = {name: value for name, value in content.items() if name != EXAMPLE_TABLE}
    try:
        specification = Specification.model_validate(said)
        specification.window(Oil(specification.oil.typical_rho15))
    except ValidationError as error:
        return None, of_shape(error, content)
    except RangeError as error:
        return None, (of_range(error, words),)
    return specification, ()


def _refused(content: Mapping[str, Any], problems: tuple[Problem, ...]) -> SpecificationError:
    said = " ".join(problem.words for problem in problems)
    advice = next((p.advice for p in problems if p.advice), "Correct the named fields.")
    count = f"the specification has {len(problems)} problems: " if len(problems) > 1 else ""
    return SpecificationError(
        f"{count}{said}" if count else f"{said[:1].lower()}{said[1:]}",
        where=str(content.get("id", "specification"))[:80],
        advice=f"{advice} Nothing was stored.",
        problems=problems,
    )


def specification_from_toml(text: str, *, where: str = "specification") -> Specification:
    """Make a specification from what an author wrote; nothing in it may contradict the rest.

    What is on record already is read by :func:`specification_from`, which asks less: a revision in
    force stays readable. Raises :class:`SpecificationError`.
    """
    try:
        content = toml_in(text)
    except ValueError as error:
        raise SpecificationError(
            f"this is not TOML: {error}.", where=where, advice="Correct the text at that place."
        ) from error
    specification, problems = judged(content)
    if specification is None or problems:
        raise _refused(content, problems)
    return specification


def specification_in(path: Path) -> Specification:
    """Read a specification from its file. Raises :class:`SpecificationError`."""
    return specification_from_toml(specification_text_in(path), where=str(path))


def specification_text_in(path: Path) -> str:
    """Return the text of a specification's file. Raises :class:`SpecificationError`."""
    try:
        return text_in(path, LARGEST_FILE_BYTES)
    except ValueError as error:
        raise SpecificationError(
            f"the file cannot be used: {error}.", where=str(path)[:200], advice="Give a TOML file."
        ) from error
