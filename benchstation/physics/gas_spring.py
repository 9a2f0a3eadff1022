"""The gas in a filled damper: what charge to aim for, and what pressure follows from it.

The specification gives a gauge pressure at a reference temperature with the rod fully out. That
pressure holds for the unit as filled: the amount of gas is what this pressure makes of the chamber
left by the *actual* oil. At the bench the same amount sits in a chamber that the oil's expansion
has changed, V_gas(T) = V_gas(T_ref) - V_oil * a * (T - T_ref), and its pressure there is the
target. Left out are the tube's own expansion (near a tenth of the oil's) and the compression of the
oil (some 0.2 % of its volume at 40 bar): both would lower the pressures when hot, and
:meth:`ChargeTarget.left_out_pa` bounds them. Nitrogen: see ``nitrogen``.
"""

from dataclasses import dataclass
from typing import NamedTuple

from benchstation.physics import compression, nitrogen
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.errors import require
from benchstation.physics.geometry import DamperGeometry
from benchstation.physics.oil import Oil

REFERENCE_K = 293.15
"""20 degC, the reference temperature of volumetric glassware (ISO 4787)."""


@dataclass(frozen=True, slots=True)
class ChargedDamper:
    """A damper with known oil and a known amount of gas; gives pressures and positions from it.

    ``oil_volume_m3`` is at ``reference_k``; ``oil_alpha_per_k`` its mean expansion from there
    (``Oil.mean_expansion_per_k``), one number for every temperature. With ``oil`` the expansion is
    exact at each: the mean up to 120 degC is 10 % more than that down to -20 degC.
    ``temperature_k`` is that of oil and gas together. ``travel_m`` is rod travel into the body, 0
    fully out. Methods raise RangeError where the oil leaves the gas
    no room or the gas would leave the range of its equation.
    """

    geometry: DamperGeometry
    oil_volume_m3: float
    amount_kg: float
    oil_alpha_per_k: float
    reference_k: float = REFERENCE_K
    oil: Oil | None = None

    def oil_alpha_at(self, temperature_k: float) -> float:
        """Return the oil's mean expansion from the reference to ``temperature_k``, 1/K."""
        if self.oil is None:
            return self.oil_alpha_per_k
        return self.oil.mean_expansion_per_k(self.reference_k, temperature_k)

    def gas_volume_m3(self, temperature_k: float, travel_m: float = 0.0) -> float:
        """Return the gas volume; raises RangeError if the oil leaves none."""
        volume = self.geometry.gas_volume_m3(
            self.oil_volume_m3,
            temperature_k,
            reference_k=self.reference_k,
            oil_alpha_per_k=self.oil_alpha_at(temperature_k),
            travel_m=travel_m,
        )
        room = self.geometry.free_volume_m3
        return require("gas volume left by the oil", volume, 1e-9, room, "m3")

    def pressure_pa(self, temperature_k: float, travel_m: float = 0.0) -> float:
        """Return the absolute pressure when gas and oil are at ``temperature_k`` (slow travel)."""
        require("rod travel", travel_m, 0.0, self.geometry.stroke_m, "m")
        volume = self.gas_volume_m3(temperature_k, travel_m)
        return nitrogen.wide_pressure_pa(self.amount_kg / volume, temperature_k)

    def fast_pressure_pa(self, temperature_k: float, travel_m: float) -> float:
        """Return the absolute pressure after fast travel from fully out (isentropic)."""
        require("rod travel", travel_m, 0.0, self.geometry.stroke_m, "m")
        start = self.pressure_pa(temperature_k)
        ratio = self.gas_volume_m3(temperature_k, travel_m) / self.gas_volume_m3(temperature_k)
        return compression.isentropic_pressure_pa(start, temperature_k, ratio)

    def full_bump_pa(self, temperature_k: float) -> float:
        """Return the absolute pressure at full bump reached slowly (isothermal)."""
        return self.pressure_pa(temperature_k, self.geometry.stroke_m)

    def full_bump_fast_pa(self, temperature_k: float) -> float:
        """Return the absolute pressure at full bump reached fast (isentropic): the higher one."""
        return self.fast_pressure_pa(temperature_k, self.geometry.stroke_m)

    def floating_piston_room_m(self, temperature_k: float, travel_m: float = 0.0) -> float:
        """Return the floating piston's distance from the gas end."""
        return self.geometry.floating_piston_room_m(self.gas_volume_m3(temperature_k, travel_m))

    def floating_piston_clearance_m(self, temperature_k: float, travel_m: float) -> float:
        """Return the floating piston's distance from the main piston."""
        return self.geometry.floating_piston_clearance_m(
            self.gas_volume_m3(temperature_k, travel_m), travel_m
        )


def charged_to_specification(
    geometry: DamperGeometry,
    *,
    charge_gauge_pa: float,
    oil_volume_m3: float,
    oil_alpha_per_k: float,
    reference_k: float = REFERENCE_K,
    reference_ambient_pa: float = STANDARD_PRESSURE_PA,
    oil: Oil | None = None,
) -> ChargedDamper:
    """Return the damper with this oil and the gas that makes the specified charge.

    With ``oil`` its expansion is exact at every temperature (see :class:`ChargedDamper`).
    """
    require("specified charge (gauge)", charge_gauge_pa, 0.0, nitrogen.HIGH_PA, "Pa")
    require("oil volume", oil_volume_m3, 0.0, geometry.free_volume_m3, "m3")
    require("oil expansion coefficient", oil_alpha_per_k, 0.0, 2e-3, "1/K")
    volume = geometry.gas_volume_m3(oil_volume_m3)
    require("gas volume left by the oil", volume, 1e-9, geometry.free_volume_m3, "m3")
    density = nitrogen.density_kg_m3(charge_gauge_pa + reference_ambient_pa, reference_k)
    amount = density * volume
    return ChargedDamper(geometry, oil_volume_m3, amount, oil_alpha_per_k, reference_k, oil)


_TUBE_PER_K, _OIL_PER_K = 6.9e-5, 6e-4
_COMPRESSED_PER_PA, _COMPRESSED_PER_K = 7e-10, 0.006


class LeftOut(NamedTuple):
    """Bounds of what the target leaves out, Pa: the tube's expansion and the oil's compression."""

    tube_pa: float
    oil_pa: float


@dataclass(frozen=True, slots=True)
class ChargeTarget:
    """The charge to aim for and every term that leads to it, for checking by hand."""

    charge_gauge_pa: float
    reference_k: float
    reference_ambient_pa: float
    reference_density_kg_m3: float
    gas_volume_ref_m3: float
    amount_kg: float
    bench_k: float
    oil_expansion_m3: float
    oil_expansion_m3_k: float
    gas_volume_m3: float
    density_kg_m3: float
    ambient_pa: float
    target_pa: float
    target_gauge_pa: float

    @property
    def per_k_pa(self) -> float:
        """Change of the target with bench temperature, Pa/K (for the uncertainty budget)."""
        change = 0.05
        volume = self.gas_volume_m3 - change * self.oil_expansion_m3_k
        above = nitrogen.pressure_pa(self.amount_kg / volume, self.bench_k + change)
        return (above - self.target_pa) / change

    @property
    def left_out_pa(self) -> LeftOut:
        """Return how much lower than the target the charge may truly have to be at the bench.

        The tube's room grows with temperature: by nothing to 6.9e-5 of it a kelvin, aluminium
        (linear 2.3e-5; steel 1.2e-5: Bergman et al., table A.1, from memory). The compressed part
        of the oil grows by 0.6 % of itself a kelvin, and with the pressure: 7e-10 of the volume a
        pascal for a mineral oil (bulk modulus 1.4 GPa; both from memory). Zero at the reference.
        """
        away_k = abs(self.bench_k - self.reference_k)
        oil_m3 = self.oil_expansion_m3_k / _OIL_PER_K
        tube_m3 = _TUBE_PER_K * away_k * (oil_m3 + self.gas_volume_ref_m3)
        reference_pa = self.charge_gauge_pa + self.reference_ambient_pa
        more_pa = abs(self.target_pa - reference_pa)
        oil_share = _COMPRESSED_PER_PA * (more_pa + _COMPRESSED_PER_K * away_k * self.target_pa)
        # At constant amount and temperature nitrogen is within a few percent of p V = const.
        per_m3 = self.target_pa / self.gas_volume_m3
        return LeftOut(per_m3 * tube_m3, per_m3 * oil_share * oil_m3)


def charge_target_pa(
    geometry: DamperGeometry,
    *,
    charge_gauge_pa: float,
    oil_volume_m3: float,
    oil_alpha_per_k: float,
    bench_k: float,
    ambient_pa: float,
    reference_k: float = REFERENCE_K,
    reference_ambient_pa: float = STANDARD_PRESSURE_PA,
) -> ChargeTarget:
    """Return what the transducer must show at this bench temperature, oil fill and barometer.

    ``oil_volume_m3`` is the *net* oil in the unit, at ``reference_k``. Rod fully out. Raises
    RangeError if the oil leaves no room for gas or the gas leaves the range of its equation.
    """
    require("barometric pressure", ambient_pa, 50e3, 115e3, "Pa")
    unit = charged_to_specification(
        geometry,
        charge_gauge_pa=charge_gauge_pa,
        oil_volume_m3=oil_volume_m3,
        oil_alpha_per_k=oil_alpha_per_k,
        reference_k=reference_k,
        reference_ambient_pa=reference_ambient_pa,
    )
    volume_ref = geometry.gas_volume_m3(oil_volume_m3)
    volume = unit.gas_volume_m3(bench_k)
    target = unit.pressure_pa(bench_k)
    return ChargeTarget(
        charge_gauge_pa=charge_gauge_pa,
        reference_k=reference_k,
        reference_ambient_pa=reference_ambient_pa,
        reference_density_kg_m3=unit.amount_kg / volume_ref,
        gas_volume_ref_m3=volume_ref,
        amount_kg=unit.amount_kg,
        bench_k=bench_k,
        oil_expansion_m3=volume_ref - volume,
        oil_expansion_m3_k=oil_volume_m3 * oil_alpha_per_k,
        gas_volume_m3=volume,
        density_kg_m3=unit.amount_kg / volume,
        ambient_pa=ambient_pa,
        target_pa=target,
        target_gauge_pa=target - ambient_pa,
    )
