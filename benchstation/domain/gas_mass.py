"""The proof that the gas is in after the seal-off: the push force, or the gas by its mass.

A gauge at the fill line says nothing of the unit once its screw is closed. The unit weighed before
the charge and after the seal-off must have gained the nitrogen of the charge,
``m = V (rho(p) - rho(p_ambient))``. Its volume is the same both times, and so is its buoyancy.
What the scale cannot tell is left to the push force.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from benchstation.domain.events import ChargeCaptured, UnitWeighed
from benchstation.domain.inputs.quantity import Measure, Measured
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Specification, Step
from benchstation.metrology.conformity import Decision
from benchstation.physics import nitrogen
from benchstation.quantities.formatter import METRIC

COVERAGE = 2.0
STANDARD_PA = 101_325.0
MOST_SHARE = 1.0 / 3.0
"""A scale whose uncertainty is more of the expected gain than this is too coarse to tell."""


@dataclass(frozen=True, slots=True)
class Gain:
    """What the unit gained against the gas of its charge, kg; ``tolerance_kg`` is the charge's."""

    gain_kg: float
    expected_kg: float
    tolerance_kg: float
    expanded_kg: float

    @property
    def adequate(self) -> bool:
        """Return True when the scale can tell this gas from none."""
        return self.expanded_kg <= MOST_SHARE * self.expected_kg

    @property
    def decision(self) -> Decision:
        """Return pass where the gain agrees with the charge within both uncertainties."""
        if not self.adequate:
            return Decision.UNDECIDED
        near = abs(self.gain_kg - self.expected_kg) <= self.tolerance_kg + self.expanded_kg
        return Decision.PASS if near else Decision.FAIL


def force_is_measured(specification: Specification) -> bool:
    """Return True when the route measures the push force after the seal-off."""
    return any(_measures_force(step) for step in _after_seal(specification))


def _after_seal(specification: Specification) -> tuple[Step, ...]:
    seal = specification.seal_off
    return specification.steps[specification.steps.index(seal) + 1 :] if seal else ()


def _measures_force(step: Step) -> bool:
    return any(isinstance(a.input, Measure) and bool(a.input.reference) for a in step.asked)


def sealed(rebuild: Rebuild) -> bool:
    """Return True when the seal-off is signed; a route without one is sealed by its charge."""
    seal = rebuild.specification.seal_off
    return rebuild.charge is not None and (seal is None or seal.id in rebuild.signatures)


def expected_kg(charge: ChargeCaptured, gauge_pa: float) -> float:
    """Return the nitrogen that a settled pressure stands for, above the air that was in there."""
    full = nitrogen.density_kg_m3(gauge_pa + charge.ambient_pa, charge.bench_k)
    return charge.gas_volume_m3 * (full - nitrogen.density_kg_m3(charge.ambient_pa, charge.bench_k))


def gain_of(charge: ChargeCaptured, before: UnitWeighed, after: UnitWeighed) -> Gain:
    """Return what the unit gained, with the uncertainty of two differences of two displays each.

    Nothing of the calibration is taken to cancel between the two, as for oil by difference.
    """
    variance = sum(
        _variance(one.u_calibration_kg, one.resolution_kg, one.std_kg) for one in (before, after)
    )
    expected = expected_kg(charge, charge.settled_gauge_pa)
    least = expected_kg(charge, charge.settled_gauge_pa - charge.tolerance_pa)
    return Gain(
        after.shown_kg - before.shown_kg, expected, expected - least, COVERAGE * variance**0.5
    )


def _variance(u_calibration_kg: float, resolution_kg: float, std_kg: float = 0.0) -> float:
    """Return that of the unit above the empty pan: calibration, and two displays."""
    display = resolution_kg**2 / 12 + max(std_kg, resolution_kg / 2) ** 2
    return u_calibration_kg**2 + 2 * display


def scale_tells(expected_gas_kg: float, u_calibration_kg: float, resolution_kg: float) -> bool:
    """Return True when a scale, at its best, can tell this gas from none by two weighings."""
    expanded = COVERAGE * (2.0 * _variance(u_calibration_kg, resolution_kg)) ** 0.5
    return bool(expanded <= MOST_SHARE * expected_gas_kg)


def specified_gas_kg(specification: Specification) -> float:
    """Return the nitrogen of the specified charge beside the specified oil, above the air."""
    gas, reference_k = specification.gas, specification.oil.reference_temperature
    volume = specification.geometry.model().gas_volume_m3(specification.oil.volume)
    full = nitrogen.density_kg_m3(gas.gauge_pressure + STANDARD_PA, reference_k)
    return volume * (full - nitrogen.density_kg_m3(STANDARD_PA, reference_k))


def why_never_proven(specification: Specification, scales: Iterable[tuple[float, float]]) -> str:
    """Return why a unit of this route could never be proven to hold its gas; empty: it could.

    ``scales``: standard uncertainty of calibration and last digit of each scale, kg; none: they
    are not known.
    """
    if specification.seal_off is None:
        return "no step confirms after the charge that the line is vented, where a gauge sees it"
    known = tuple(scales)
    if force_is_measured(specification) or not known:
        return ""
    gas_kg = specified_gas_kg(specification)
    if any(scale_tells(gas_kg, u, step) for u, step in known):
        return ""
    return (
        f"no push force is measured after the seal-off, and no scale here can tell its "
        f"{METRIC.mass(gas_kg, 2)} of gas"
    )


def gain(rebuild: Rebuild) -> Gain | None:
    """Return the unit's gain; ``None`` before both weighings on one scale."""
    before, after, charge = rebuild.unit_before, rebuild.unit_after, rebuild.charge
    if before is None or after is None or charge is None:
        return None
    if before.instrument_id != after.instrument_id:
        return None
    return gain_of(charge, before, after)


def missing_proof(rebuild: Rebuild) -> str:
    """Return what is missing to prove that the gas is in; empty: it is proven."""
    if rebuild.specification.seal_off is None:
        return "the route has no seal-off: the gauge was not seen to fall to zero"
    after = _after_seal(rebuild.specification)
    for step in after:
        signed = rebuild.signatures.get(step.id)
        if signed and any(isinstance(r, Measured) and r.expected for r in signed.evidence):
            return ""
    found = gain(rebuild)
    if found is None:
        return "nothing proves that the gas is in: the unit was not weighed before and after"
    if not found.adequate:
        return "the scale is too coarse to tell the gas: measure the push force"
    if found.decision is Decision.PASS:
        return ""
    more = "more" if found.gain_kg > found.expected_kg else "less"
    return f"the unit gained {more} than the gas of its charge"
