"""Measured and tightened: a value typed or taken from an instrument, against its limits."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from benchstation.domain.events import Event, StepSigned
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.step_content import Source, spread_of
from benchstation.domain.unit_commands import NotAllowedError, form_evidence, require_step
from benchstation.domain.weigh_in import Surroundings
from benchstation.physics import nitrogen
from benchstation.physics.damper import ChargedDamper
from benchstation.physics.oil import Oil
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, parse, shown

ROUNDING = 1e-9
"""Share of a limit that the last bits of a converted number may miss it by."""
LONGEST_TOOL = 64
_KEY = {
    Dimension.LENGTH: "measured_m",
    Dimension.PRESSURE: "measured_gauge_pa",
    Dimension.FORCE: "measured_n",
    Dimension.TORQUE: "measured_n_m",
    Dimension.MASS: "measured_kg",
    Dimension.TEMPERATURE: "measured_k",
}
_DECIMALS = {Dimension.LENGTH: 2, Dimension.TORQUE: 2}


@dataclass(frozen=True, slots=True)
class Taken:
    """A steady value of an instrument, SI, with what it was made from."""

    value: float
    std: float
    count: int
    instrument_id: str
    raw: str


@dataclass(frozen=True, slots=True)
class Limits:
    """What is asked, SI."""

    nominal: float
    tolerance: float
    dimension: Dimension

    def holds(self, value: float) -> bool:
        """Say whether a value is inside."""
        return abs(value - self.nominal) <= self.tolerance * (1.0 + ROUNDING)

    def in_words(self, system: UnitSystem = UnitSystem.METRIC) -> str:
        """Return nominal and tolerance."""
        decimals = _DECIMALS.get(self.dimension)
        asked = shown(self.nominal, self.dimension, system, decimals=decimals)
        spread = shown(self.tolerance, spread_of(self.dimension), system, decimals=decimals)
        if spread.unit != asked.unit:
            return f"{asked} ± {spread}"
        return f"{asked.number} ± {spread}"

    def range_in_words(self, system: UnitSystem = UnitSystem.METRIC) -> str:
        """Return the least and the most."""
        decimals = _DECIMALS.get(self.dimension)
        low, high = (
            shown(self.nominal + sign * self.tolerance, self.dimension, system, decimals=decimals)
            for sign in (-1, 1)
        )
        return f"{low.number} to {high}"


@dataclass(frozen=True, slots=True)
class PushForce:
    """The force that pushes the rod out, and every term of it; absolute pressures."""

    force_n: float
    gas_pa: float
    ambient_pa: float
    bench_k: float
    rod_area_m2: float


def push_force(rebuild: Rebuild, oil: Oil, air: Surroundings) -> PushForce | None:
    """Return ``F = (p_gas - p_ambient) * A_rod``, rod out, for this fill and charge, here and now.

    The gas is what the settled charge put in at its bench temperature; ``None`` before a charge.
    """
    judged, charge = rebuild.oil_judged(StepKind.BLEED), rebuild.charge
    if judged is None or charge is None:
        return None
    density = nitrogen.density_kg_m3(charge.settled_gauge_pa + charge.ambient_pa, charge.bench_k)
    reference = rebuild.specification.oil.reference_temperature
    geometry = rebuild.specification.geometry.model()
    unit = ChargedDamper(
        geometry,
        judged.net_volume_ref_m3,
        density * charge.gas_volume_m3,
        oil.mean_expansion_per_k(reference, air.temperature_k),
        reference,
        oil,
    )
    gas_pa = unit.pressure_pa(air.temperature_k)
    force = geometry.push_force_n(gas_pa, air.pressure_pa)
    return PushForce(force, gas_pa, air.pressure_pa, air.temperature_k, geometry.rod_area_m2)


def limits_of(step: Step, expected: PushForce | None = None) -> Limits | None:
    """Return the limits of a measure or torque step; ``None`` where a value is only recorded."""
    if step.torque is not None:
        return Limits(step.torque.nominal, step.torque.tolerance, Dimension.TORQUE)
    measure = step.measure
    assert measure is not None
    nominal = expected.force_n if measure.reference and expected else measure.nominal
    if nominal is None or measure.tolerance is None:
        return None
    return Limits(nominal, measure.tolerance, measure.of)


def in_words(value: float, dimension: Dimension, system: UnitSystem = UnitSystem.METRIC) -> str:
    """Return a measured value; a pressure says that it is gauge."""
    text = str(shown(value, dimension, system, decimals=_DECIMALS.get(dimension)))
    return f"{text} gauge" if dimension is Dimension.PRESSURE else text


def sign_measure(
    rebuild: Rebuild,
    fields: Mapping[str, str],
    *,
    units: UnitSystem = UnitSystem.METRIC,
    taken: Taken | None = None,
    expected: PushForce | None = None,
) -> list[Event]:
    """Sign a measured value; outside its limits only after a signed deviation.

    A number without a unit is taken in the unit of ``units`` that the limits are shown in.
    ``taken`` is the instrument's steady value, needed where the step measures with one.
    """
    step = require_step(rebuild, StepKind.MEASURE)
    measure = step.measure
    assert measure is not None
    if measure.reference and expected is None:
        raise NotAllowedError(
            "the expected push force is not known: there is no charge on record.",
            where=step.title,
            advice="Go back to the gas charge.",
        )
    evidence: dict[str, Any] = {}
    if measure.source is Source.TYPED:
        value = parse(
            fields.get("value", ""), measure.of, default_unit=display_unit(measure.of, units)
        )
    elif taken is None:
        raise NotAllowedError(
            f"the {measure.source.value} gives no steady, valid reading.",
            where=step.title,
            advice="Hands off until it is steady; a missing reading is never taken.",
        )
    else:
        value = taken.value
        evidence = {k: v for k, v in asdict(taken).items() if k != "value"}
        evidence["source"] = measure.source.value
    limits = limits_of(step, expected)
    evidence = {**form_evidence(step, fields), _KEY[measure.of]: value, **evidence}
    if expected is not None:
        evidence["expected"] = asdict(expected)
    return [_signed(rebuild, step, measure.label, value, measure.of, limits, evidence, units)]


def sign_torque(
    rebuild: Rebuild, fields: Mapping[str, str], *, units: UnitSystem = UnitSystem.METRIC
) -> list[Event]:
    """Sign a tightening torque with the wrench that gave it; outside its limits as a deviation."""
    step = require_step(rebuild, StepKind.TORQUE)
    torque = step.torque
    assert torque is not None
    unit = display_unit(Dimension.TORQUE, units)
    value = parse(fields.get("value", ""), Dimension.TORQUE, default_unit=unit)
    tool = " ".join(fields.get("tool", "").split())
    if torque.tool and (not tool or len(tool) > LONGEST_TOOL or not tool.isprintable()):
        raise NotAllowedError(
            "the wrench's number is missing or cannot be printed.",
            where=step.title,
            advice=f"Scan or type it, up to {LONGEST_TOOL} characters.",
        )
    evidence: dict[str, Any] = {**form_evidence(step, fields), _KEY[Dimension.TORQUE]: value}
    if tool:
        evidence["tool"] = tool
    limits = limits_of(step)
    of = Dimension.TORQUE
    return [_signed(rebuild, step, torque.label, value, of, limits, evidence, units, tool)]


def _signed(
    rebuild: Rebuild,
    step: Step,
    label: str,
    value: float,
    dimension: Dimension,
    limits: Limits | None,
    evidence: dict[str, Any],
    units: UnitSystem,
    tool: str = "",
) -> StepSigned:
    said = in_words(value, dimension)
    if limits is not None:
        evidence |= {"nominal": limits.nominal, "tolerance": limits.tolerance}
        if not limits.holds(value) and not rebuild.deviated(step.id):
            raise NotAllowedError(
                f"{label} is {in_words(value, dimension, units)}, "
                f"allowed {limits.range_in_words(units)}.",
                where=step.title,
                advice="Set it again and measure, or have a lead accept it as a deviation.",
            )
        said += f", specified {limits.in_words()}"
        if not limits.holds(value):
            said += ", accepted as a deviation"
    if tool:
        said += f", wrench {tool}"
    return StepSigned(rebuild.unit_id, step.id, said, evidence)
