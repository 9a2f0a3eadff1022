"""What a leak limit means in service, and what a hold test or a second reading can prove of it."""

from dataclasses import dataclass

from benchstation.domain.inputs.second_reading import MASS
from benchstation.domain.specification import Specification
from benchstation.physics.body_temperature import TimeConstant
from benchstation.physics.leak import Drift, hold_u_pa_s, loss_rate_pa_s
from benchstation.physics.loss import rate_of_mass_pa_m3_s
from benchstation.physics.oil import Oil

COVERAGE = 2.0
MARGIN = 4.0
"""A reading proves a limit where its u is a quarter of it: a unit with half the leak passes."""


@dataclass(frozen=True, slots=True)
class GaugeAtHand:
    """What a hold test is read on: last digit, scatter and time between readings, SI."""

    resolution_pa: float
    noise_pa: float
    each_s: float


USUAL_GAUGE = GaugeAtHand(100.0, 100.0, 0.1)
"""Steps of a millibar, ten readings a second: taken where no gauge is at hand."""


@dataclass(frozen=True, slots=True)
class HoldProof:
    """What a hold test can prove: the least leak that it tells from none, Pa m3/s, k = 2.

    ``allowed`` is what it is judged by, ``service`` what service allows; ``volume_m3`` the gas.
    """

    least: float
    allowed: float
    service: float
    volume_m3: float

    @property
    def proves_allowed(self) -> bool:
        """Return True when a tight unit passes this hold test."""
        return self.least <= self.allowed

    @property
    def proves_service(self) -> bool:
        """Return True when a hold test that passes proves what service asks for."""
        return self.least <= self.service and self.allowed <= self.service

    def loss_pa_s(self, rate: float) -> float:
        """Return how fast a leak rate takes pressure from the unit, Pa/s."""
        return loss_rate_pa_s(rate, self.volume_m3)


def hold_proof(
    specification: Specification, gauge: GaugeAtHand, u_offset_k: float, body: TimeConstant
) -> HoldProof:
    """Return what the specified hold can prove where the unit is so well known to be at rest.

    ``u_offset_k`` is how well it is known how far the unit is off the room.
    """
    unit = specification.charged(Oil(specification.oil.typical_rho15))
    at_k = specification.gas.reference_temperature
    volume = unit.gas_volume_m3(at_k)
    per_k = unit.pressure_pa(at_k + 0.5) - unit.pressure_pa(at_k - 0.5)
    u = hold_u_pa_s(
        specification.gas.hold_time,
        each_s=gauge.each_s,
        noise_pa=gauge.noise_pa,
        resolution_pa=gauge.resolution_pa,
        drift=Drift(0.0, per_k * u_offset_k / body.tau_s),
    )
    return HoldProof(
        COVERAGE * volume * u, specification.hold_leak, specification.service_leak, volume
    )


def wait_to_prove_s(specification: Specification, u_mass_kg: float) -> float:
    """Return how long a unit waits until its mass, known to ``u_mass_kg``, proves service."""
    unit = specification.charged(Oil(specification.oil.typical_rho15))
    at_k = specification.gas.reference_temperature
    rate = rate_of_mass_pa_m3_s(MARGIN * u_mass_kg, 1.0, unit.pressure_pa(at_k), at_k)
    return rate / specification.service_leak


def second_proves(specification: Specification, u_mass_kg: float) -> bool | None:
    """Return True when the second reading waits long enough; ``None``: none by mass is taken."""
    second = specification.second_reading
    if second is None or MASS not in second.by:
        return None
    return second.after >= wait_to_prove_s(specification, u_mass_kg)
