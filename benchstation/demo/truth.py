"""What the virtual bench really holds, by physics of its own: a record is compared with it.

Nothing of the station's own equations is used: the gas is ideal, the oil's density falls by 0.65
kg/m3 a kelvin. Between the bench's temperature and the reference both agree with the real ones
within 0.1 %.
"""

from dataclasses import dataclass

from benchstation.domain.specification import Specification
from sample_devices.bench_model import R_N2, BenchModel

OIL_KG_M3_K = 0.65
STANDARD_PA = 101_325.0
"""The ambient that the specified gauge pressure stands above."""


@dataclass(frozen=True, slots=True)
class Truth:
    """Oil and gas in the unit, SI; ``_ref`` is at the specification's reference temperature."""

    oil_kg: float
    oil_density_ref_kg_m3: float
    oil_volume_ref_m3: float
    gas_kg: float
    gas_gauge_pa: float
    gas_gauge_ref_pa: float
    gas_rest_gauge_pa: float
    """Once the gas is as warm as the unit's body."""
    line_gauge_pa: float
    oil_k: float
    gas_k: float
    ambient_k: float
    ambient_pa: float
    reference_k: float
    gas_in: bool
    """More gas than air at ambient pressure, by the zero band."""
    oil_inside: bool
    gas_inside: bool

    @property
    def inside(self) -> bool:
        """Return True when oil and gas are within the specification."""
        return self.oil_inside and self.gas_inside


def truth_of(model: BenchModel, specification: Specification) -> Truth:
    """Return what the model holds now, against the specification's own figures."""
    oil, gas = specification.oil, specification.gas
    with model.lock:
        ambient_k, ambient_pa = model.setup.ambient_k, model.setup.ambient_pa
        density = model.rho_oil_kg_m3 + OIL_KG_M3_K * (ambient_k - oil.reference_temperature)
        volume = model.oil_kg / density
        room = max(1e-6, model.free_volume_m3 - volume)
        gauge_ref_pa = model.gas_kg * R_N2 * oil.reference_temperature / room - STANDARD_PA
        return Truth(
            oil_kg=model.oil_kg,
            oil_density_ref_kg_m3=density,
            oil_volume_ref_m3=volume,
            gas_kg=model.gas_kg,
            gas_gauge_pa=model.gas_gauge_pa,
            gas_gauge_ref_pa=gauge_ref_pa,
            gas_rest_gauge_pa=model.gas_kg * R_N2 * model.body_k / model.gas_volume_m3 - ambient_pa,
            line_gauge_pa=model.line_gauge_pa,
            oil_k=model.body_k,
            gas_k=model.gas_k,
            ambient_k=model.air_k,
            ambient_pa=ambient_pa,
            reference_k=oil.reference_temperature,
            gas_in=model.gas_gauge_pa > gas.release_zero_band,
            oil_inside=abs(volume - oil.volume) <= oil.tolerance,
            gas_inside=abs(gauge_ref_pa - gas.gauge_pressure) <= gas.tolerance,
        )
