"""The inside of a monotube damper: volumes, and where the floating piston stands.

Lengths run along the tube from the closed gas end. With the rod fully out, from the gas end: gas,
floating piston, oil with the main piston in it, underside of the rod guide at
``internal_length_m``.
"""

import math
from dataclasses import dataclass

from benchstation.physics.errors import RangeError, require


@dataclass(frozen=True, slots=True)
class DamperGeometry:
    """One damper family's inside, in SI. Raises RangeError for a body that cannot be.

    ``internal_length_m`` gas end to the underside of the rod guide at its depth. ``stroke_m`` rod
    fully out to full bump. ``hardware_volume_m3`` all that is neither oil nor gas with the rod
    fully out but for the floating piston: main piston, valves, the rod's end, what the guide takes.
    ``piston_depth_m`` underside of the rod guide to the gas-side face of the main piston (its nut)
    with the rod fully out. ``guide_depth_m`` tube mouth to the underside of the rod guide, used
    only to turn positions into depths measured from the mouth. ``gas_recess_m3`` gas space beyond
    the plain bore: a hollow floating piston, a port.
    """

    bore_m: float
    rod_diameter_m: float
    internal_length_m: float
    stroke_m: float
    floating_piston_thickness_m: float
    hardware_volume_m3: float
    piston_depth_m: float = 0.0
    guide_depth_m: float = 0.0
    gas_recess_m3: float = 0.0

    def __post_init__(self) -> None:
        require("bore", self.bore_m, 5e-3, 0.3, "m")
        require("rod diameter", self.rod_diameter_m, 1e-3, 0.9 * self.bore_m, "m")
        require("internal length", self.internal_length_m, 0.02, 3.0, "m")
        require("stroke", self.stroke_m, 1e-3, self.internal_length_m, "m")
        length = self.internal_length_m - self.stroke_m
        require("floating piston thickness", self.floating_piston_thickness_m, 1e-3, length, "m")
        require("piston depth", self.piston_depth_m, 0.0, length, "m")
        require("guide depth", self.guide_depth_m, 0.0, 1.0, "m")
        require("gas recess", self.gas_recess_m3, 0.0, 0.5 * self.bore_area_m2 * length, "m3")
        require("hardware volume", self.hardware_volume_m3, 0.0, 0.9 * self.tube_volume_m3, "m3")
        if self.free_volume_m3 <= self.stroke_volume_m3:
            raise RangeError(
                "volume left for oil and gas with the rod fully in",
                self.free_volume_m3 - self.stroke_volume_m3,
                0.0,
                self.tube_volume_m3,
                "m3",
            )

    @property
    def bore_area_m2(self) -> float:
        """Return the area of the bore."""
        return 0.25 * math.pi * self.bore_m**2

    @property
    def rod_area_m2(self) -> float:
        """Return the area of the rod, on which the gas pushes it out."""
        return 0.25 * math.pi * self.rod_diameter_m**2

    @property
    def tube_volume_m3(self) -> float:
        """Return the volume of the plain tube from the gas end to the rod guide."""
        return self.bore_area_m2 * self.internal_length_m

    @property
    def stroke_volume_m3(self) -> float:
        """Return the volume the rod displaces from fully out to full bump."""
        return self.rod_area_m2 * self.stroke_m

    @property
    def free_volume_m3(self) -> float:
        """Return what oil and gas share with the rod fully out: V_internal - V_hardware."""
        piston = self.bore_area_m2 * self.floating_piston_thickness_m
        return self.tube_volume_m3 + self.gas_recess_m3 - piston - self.hardware_volume_m3

    def gas_volume_m3(
        self,
        oil_volume_m3: float,
        temperature_k: float | None = None,
        *,
        reference_k: float = 293.15,
        oil_alpha_per_k: float = 0.0,
        travel_m: float = 0.0,
    ) -> float:
        """Return the gas volume: V_free - V_oil * (1 + a (T - T_ref)) - A_rod * travel.

        ``oil_volume_m3`` is at ``reference_k``; without ``temperature_k`` it is taken there. May
        come out zero or negative: then that much oil does not fit, which a caller must treat as
        such.
        """
        delta = 0.0 if temperature_k is None else temperature_k - reference_k
        oil = oil_volume_m3 * (1.0 + oil_alpha_per_k * delta)
        return self.free_volume_m3 - oil - self.rod_area_m2 * travel_m

    def oil_volume_m3(self, gas_volume_m3: float) -> float:
        """Return the oil that leaves this gas volume, both at one temperature, rod fully out."""
        return self.free_volume_m3 - gas_volume_m3

    def floating_piston_room_m(self, gas_volume_m3: float) -> float:
        """Return the distance from the gas end to the floating piston's gas face."""
        return (gas_volume_m3 - self.gas_recess_m3) / self.bore_area_m2

    def floating_piston_clearance_m(self, gas_volume_m3: float, travel_m: float) -> float:
        """Return the distance between floating piston and main piston at this rod travel."""
        face = self.floating_piston_room_m(gas_volume_m3) + self.floating_piston_thickness_m
        return self.internal_length_m - self.piston_depth_m - travel_m - face

    def floating_piston_depth_m(self, gas_volume_m3: float) -> float:
        """Return the depth of the floating piston's oil face below the tube's mouth."""
        face = self.floating_piston_room_m(gas_volume_m3) + self.floating_piston_thickness_m
        return self.guide_depth_m + self.internal_length_m - face

    def gas_volume_at_depth_m3(self, depth_m: float) -> float:
        """Return the gas volume behind a floating piston at this depth (inverse of the depth)."""
        room = self.guide_depth_m + self.internal_length_m - self.floating_piston_thickness_m
        return self.bore_area_m2 * (room - depth_m) + self.gas_recess_m3

    def floating_piston_travel_m(self, travel_m: float) -> float:
        """Return how far the floating piston goes for this much rod travel: x A_rod/A_bore."""
        return travel_m * self.rod_area_m2 / self.bore_area_m2

    def push_force_n(self, pressure_pa: float, ambient_pa: float) -> float:
        """Return force that pushes the rod out: F = (p_gas - p_ambient) * A_rod, absolute in."""
        return (pressure_pa - ambient_pa) * self.rod_area_m2
