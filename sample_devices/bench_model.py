"""The bench without a person: oil that is poured onto a pan, nitrogen that is let into a unit.

All SI. The gas is taken as ideal and diatomic, which is within 1 % of nitrogen at these pressures:
the station's own real-gas equation is not used here, so that a mistake in it would show. Energy of
an open chamber: ``m cv dT = mdot (cp T_in - cv T) - h (T - T_wall)``, with ``h`` given as the time
constant of a full chamber.
"""

import math
import random
import threading
from dataclasses import dataclass

R_N2 = 296.8
CV = 2.5 * R_N2
CP = 3.5 * R_N2
AIR_KG_M3 = 1.19
STEEL_KG_M3 = 8000.0
OIL_KG_M3_K = 0.65
"""How much lighter a cubic metre of oil is, a kelvin warmer."""
LONGEST_STEP_S = 0.02
QUIET_STEP_S = 0.5
"""A step while nothing but temperatures move: a tenth of the gas's own time constant."""
JUG_LAG_S = 0.25
VENT_CONDUCTANCE = 6e-9
FILL_CONDUCTANCE = 2e-10
BOTTLE_VOLUME_M3 = 0.01
LINE_VOLUME_M3 = 5e-6
OPENING_S = 0.5
"""How fast the fill line takes the unit's pressure when the gas screw is opened again."""
TRAY_KG = 0.15
DRIP_TRAY_KG = 0.11
JUG_KG = 0.42
FULL_JUG_KG = 0.75
LOW_JUG_KG = 0.3
FITTINGS_KG = 0.34
"""What the whole unit weighs more than its body: rod, guide, piston."""
CHECK_WEIGHT_KG = 0.2
PAN = ("body", "jug", "unit", "tray", "drip tray", "check weight", "nothing")
BESIDE = ("body", "jug", "unit", "nothing")
"""With these on the pan a pour goes into the body, there or beside the scale."""


@dataclass(frozen=True, slots=True)
class BenchSetup:
    """What stands on the virtual bench."""

    rho_oil_kg_m3: float = 847.3
    free_volume_m3: float = 365e-6
    """What oil and gas share in the unit."""
    ambient_pa: float = 100_900.0
    ambient_k: float = 294.55
    humidity: float = 0.45
    bottle_gauge_pa: float = 150e5
    regulator_gauge_pa: float = 18e5
    cooling_s: float = 6.0
    slow_share: float = 0.0
    """Share of the gas's heat that the tube's skin holds back and gives off later; 0: none."""
    slow_s: float = 60.0
    """How slowly the skin gives it to the unit's body."""
    leak_m3_s: float = 0.0
    unit_tau_s: float = 1800.0
    """How slowly a unit comes to the room's temperature."""
    largest_flow_kg_s: float = 0.022
    body_kg: float = 0.9


class BenchModel:
    """The bench's state; :meth:`advance` moves it on. Thread-safe; seeded."""

    def __init__(self, seed: int = 0, setup: BenchSetup | None = None) -> None:
        self.setup = setup or BenchSetup()
        self.random = random.Random(seed)  # noqa: S311 - a demonstration's noise
        self.lock = threading.RLock()
        self._t: float | None = None
        self.pour_opening = 0.0
        self.valve_opening = 0.0
        self.vent_opening = 0.0
        self.regulator_gauge_pa = self.setup.regulator_gauge_pa
        self.on_pan = "nothing"
        self.pressed_kg = 0.0
        """How hard a hand presses on the scale."""
        self.open_top = False
        self.free_volume_m3 = self.setup.free_volume_m3
        self.rho_oil_kg_m3 = self.setup.rho_oil_kg_m3
        self.oil_kg = 0.0
        self.tray_kg = 0.0
        self.drip_kg = 0.0
        self.jug_kg = FULL_JUG_KG
        self._stripped = False
        self.flow = 0.0
        self.room_k = self.unit_k = self.gas_k = self.setup.ambient_k
        self._skin_k = self.unit_k
        self.room_drift_k_s = 0.0
        self.gas_kg = self._mass_at(self.setup.ambient_pa)
        self._air_kg = self.gas_kg
        """The air in it when it was closed: that weighs as much as the air it took the place of."""
        self.bottle_pa = self.setup.bottle_gauge_pa + self.setup.ambient_pa
        self._screw_closed = False
        self._line_pa: float | None = None

    def _mass_at(self, pressure_pa: float) -> float:
        return pressure_pa * self.gas_volume_m3 / (R_N2 * self.unit_k)

    @property
    def gas_volume_m3(self) -> float:
        """Return what the oil leaves to the gas; the oil is as warm as the unit."""
        density = self.rho_oil_kg_m3 - OIL_KG_M3_K * (self.unit_k - self.setup.ambient_k)
        return max(1e-6, self.free_volume_m3 - self.oil_kg / density)

    @property
    def air_k(self) -> float:
        """Return the temperature of the room."""
        return self.room_k

    @property
    def air_pa(self) -> float:
        """Return the pressure of the room, above vacuum."""
        return self.setup.ambient_pa

    @property
    def air_humidity(self) -> float:
        """Return the relative humidity of the room, 0 to 1."""
        return self.setup.humidity

    @property
    def body_k(self) -> float:
        """Return the temperature of the unit's body, with its oil."""
        return self.unit_k

    def warm_unit(self, temperature_k: float) -> None:
        """Have the unit, and what is in it, as warm as this: off a vehicle, out of a washer."""
        with self.lock:
            air = self.open_top
            self.unit_k = self.gas_k = self._skin_k = temperature_k
            if air:
                self.let_air_out()

    def bring_in(
        self, *, free_volume_m3: float, rho_oil_kg_m3: float, oil_kg: float, gauge_pa: float
    ) -> None:
        """Put another unit on the bench as it comes in: old oil in it, still charged."""
        with self.lock:
            self.free_volume_m3, self.rho_oil_kg_m3 = free_volume_m3, rho_oil_kg_m3
            self.oil_kg, self.tray_kg, self.flow = oil_kg, 0.0, 0.0
            self.drip_kg, self.jug_kg, self._stripped = 0.0, FULL_JUG_KG, False
            self.on_pan, self.open_top = "nothing", False
            self.pour_opening = self.valve_opening = self.vent_opening = 0.0
            self.unit_k = self.gas_k = self._skin_k = self.room_k
            self.gas_kg = self._mass_at(gauge_pa + self.setup.ambient_pa)
            self._air_kg = self._mass_at(self.setup.ambient_pa)
            self._screw_closed, self._line_pa = False, None

    def bring_in_sealed(
        self, *, free_volume_m3: float, rho_oil_kg_m3: float, shown_kg: float, gas_kg: float
    ) -> None:
        """Put a charged, sealed unit on the bench that a scale shows so much of."""
        with self.lock:
            self.bring_in(
                free_volume_m3=free_volume_m3, rho_oil_kg_m3=rho_oil_kg_m3, oil_kg=0.0, gauge_pa=0.0
            )
            lift = (1 - AIR_KG_M3 / rho_oil_kg_m3) / (1 - AIR_KG_M3 / STEEL_KG_M3)
            # The air in it is that of the room which the oil leaves: a step or two settles both.
            for _ in range(5):
                self._air_kg = self._mass_at(self.setup.ambient_pa)
                dry = self.setup.body_kg + FITTINGS_KG + gas_kg - self._air_kg
                self.oil_kg = (shown_kg - dry) / lift
            self.gas_kg, self._stripped = gas_kg, True
            self._screw_closed, self._line_pa = True, self.setup.ambient_pa

    def close_gas_screw(self) -> None:
        """Close the unit; the fill line with its gauge is let down alone."""
        with self.lock:
            if not self._screw_closed:
                self._line_pa = self.line_gauge_pa + self.setup.ambient_pa
                self._screw_closed = True

    def open_gas_screw(self) -> None:
        """Join unit and fill line again: a line that was let down takes its share of the gas."""
        with self.lock:
            self._screw_closed = False

    def put_on_pan(self, what: str) -> None:
        """Put one of :data:`PAN` on the scale; the body comes open, and empty at first.

        So it is when a jug is put there instead: the body then stands beside. A jug that is nearly
        empty comes back full.
        """
        if what not in PAN:
            raise ValueError(f"not for the pan: {what}")
        with self.lock:
            comes_open = what == "body" or (what == "jug" and not self._stripped)
            if comes_open and not self.open_top:
                self.open_top, self.oil_kg, self.tray_kg, self.drip_kg = True, 0.0, 0.0, 0.0
                self._stripped = True
            if what == "jug" and self.on_pan != "jug" and self.jug_kg < LOW_JUG_KG:
                self.jug_kg = FULL_JUG_KG
            if self.open_top:
                # Open until this moment: what is closed now is air at ambient pressure.
                self.let_air_out()
            if what == "tray":
                self.open_top = False
            self.on_pan = what

    @property
    def gas_pressure_pa(self) -> float:
        """Absolute pressure of the chamber."""
        return self.gas_kg * R_N2 * self.gas_k / self.gas_volume_m3

    @property
    def gas_gauge_pa(self) -> float:
        """Return the gauge pressure of the chamber."""
        return self.gas_pressure_pa - self.setup.ambient_pa

    @property
    def room_m3(self) -> float:
        """Return the room that valve and vent fill and empty: the unit, or the line alone."""
        return LINE_VOLUME_M3 if self._screw_closed else self.gas_volume_m3

    @property
    def screw_closed(self) -> bool:
        """Return True when the unit is closed, and valve and vent reach the fill line alone."""
        return self._screw_closed

    @property
    def line_gauge_pa(self) -> float:
        """Return the gauge pressure of the fill line, which the gauge is screwed into."""
        line_pa = self._line_pa
        return self.gas_gauge_pa if line_pa is None else line_pa - self.setup.ambient_pa

    def pan_load_kg(self) -> float:
        """Mass that a scale adjusted with steel weights feels: oil is buoyed up by the air."""
        lift = (1 - AIR_KG_M3 / self.rho_oil_kg_m3) / (1 - AIR_KG_M3 / STEEL_KG_M3)
        with self.lock:
            if self.on_pan == "body":
                return self.setup.body_kg + self.oil_kg * lift
            if self.on_pan == "unit":
                gas_kg = self.gas_kg - self._air_kg
                return self.setup.body_kg + FITTINGS_KG + self.oil_kg * lift + gas_kg
            if self.on_pan == "jug":
                return JUG_KG + self.jug_kg * lift
            if self.on_pan == "tray":
                return TRAY_KG + self.tray_kg * lift
            if self.on_pan == "drip tray":
                return DRIP_TRAY_KG + self.drip_kg * lift
            if self.on_pan == "check weight":
                return CHECK_WEIGHT_KG
            return 0.0

    def bleed(self, mass_kg: float) -> None:
        """Let oil out of the unit into the tray."""
        with self.lock:
            moved = min(mass_kg, self.oil_kg)
            self.oil_kg -= moved
            self.tray_kg += moved

    def take_out(self, mass_kg: float) -> None:
        """Take oil out of the body with a syringe: into what stands on the pan, or away."""
        with self.lock:
            moved = min(mass_kg, self.oil_kg)
            self.oil_kg -= moved
            if self.on_pan == "jug":
                self.jug_kg += moved
            if self.on_pan == "drip tray":
                self.drip_kg += moved

    def advance(self, t_s: float) -> None:
        """Move on to time ``t_s``; the first call sets the start, an earlier time does nothing."""
        with self.lock:
            if self._t is None:
                self._t = t_s
            while self._t < t_s:
                step = min(LONGEST_STEP_S, t_s - self._t)
                if self._quiet():
                    step = min(QUIET_STEP_S, t_s - self._t)
                    if self._at_rest():
                        self._rest(t_s - self._t)
                        self._t = t_s
                        break
                self._step(step)
                self._t += step

    def _quiet(self) -> bool:
        moving = self.pour_opening or self.valve_opening or self.vent_opening or self.flow > 1e-7
        return (
            not moving
            and (self._screw_closed or self._line_pa is None)
            and abs(self.gas_k - self.unit_k) < 0.1
        )

    def _at_rest(self) -> bool:
        return (
            abs(self.gas_k - self.unit_k) < 1e-3
            and abs(self._skin_k - self.unit_k) < 1e-3
            and abs(self.unit_k - self.room_k) < 1e-4
            and not self.room_drift_k_s
        )

    def _rest(self, dt: float) -> None:
        """Let time pass in which at most a leak goes on."""
        self.gas_k = self._skin_k = self.unit_k
        if self.open_top:
            self.let_air_out()
        else:
            self.gas_kg -= self._leaked_kg(dt)

    def _leaked_kg(self, dt: float) -> float:
        """Return what a leak lets out in this time: no more than presses outward."""
        lost_kg = dt * self.setup.leak_m3_s / (R_N2 * self.gas_k)
        return max(0.0, min(lost_kg, self.gas_kg - self._mass_at(self.air_pa)))

    def _step(self, dt: float) -> None:
        self.room_k += self.room_drift_k_s * dt
        self.unit_k += (self.room_k - self.unit_k) * (1 - math.exp(-dt / self.setup.unit_tau_s))
        wanted = self.pour_opening * self.setup.largest_flow_kg_s
        self.flow += (wanted - self.flow) * (1 - math.exp(-dt / JUG_LAG_S))
        if self.flow < 1e-7 and not wanted:
            self.flow = 0.0
        moved = min(self.flow * dt, self.jug_kg if self.on_pan == "jug" else math.inf)
        if self.on_pan == "jug":
            self.jug_kg -= moved
        if self.on_pan in BESIDE and (self.open_top or self.on_pan != "nothing"):
            self.oil_kg += moved
        if self.open_top:
            self.let_air_out()
        else:
            self._gas_step(dt)
        self._line_step(dt)

    def let_air_out(self) -> None:
        """Leave as much gas in the unit as its room holds at the ambient pressure."""
        self.gas_k = self.unit_k
        self.gas_kg = self._air_kg = self._mass_at(self.setup.ambient_pa)

    def _gas_step(self, dt: float) -> None:
        pressure, setup = self.gas_pressure_pa, self.setup
        supply = min(self.regulator_gauge_pa + setup.ambient_pa, self.bottle_pa)
        room = max(0.0, supply - pressure)
        valve, vent = self._openings()
        inflow = valve * FILL_CONDUCTANCE * room
        outflow = vent * VENT_CONDUCTANCE * max(0.0, pressure - setup.ambient_pa)
        outflow += self._leaked_kg(dt) / dt
        inflow = min(inflow, room * self.gas_volume_m3 / (R_N2 * self.gas_k) / dt / 2)
        outflow = min(outflow, 0.2 * self.gas_kg / dt)
        heat = (self.gas_k - self._skin_k) * self._heat_loss()
        self._warm_skin(heat * dt, dt)
        energy = self.gas_kg * CV * self.gas_k
        energy += dt * (inflow * CP * self.room_k - outflow * CP * self.gas_k - heat)
        self.gas_kg += dt * (inflow - outflow)
        self.gas_k = energy / (self.gas_kg * CV)
        self.bottle_pa -= dt * inflow * R_N2 * setup.ambient_k / BOTTLE_VOLUME_M3

    def _warm_skin(self, joule: float, dt: float) -> None:
        """Move the gas's heat into the tube's skin, and from there slowly into the body."""
        share, unit_k = self.setup.slow_share, self.unit_k
        if not share:
            self._skin_k = unit_k
            return
        capacity = self._full_gas_j_k() * (1 - share) / share
        above_k = (self._skin_k - unit_k) * math.exp(-dt / self.setup.slow_s)
        self._skin_k = unit_k + above_k + joule / capacity

    def _openings(self) -> tuple[float, float]:
        """Return how far bottle valve and vent are open to the unit: not, behind a closed screw."""
        return (0.0, 0.0) if self._screw_closed else (self.valve_opening, self.vent_opening)

    def _line_step(self, dt: float) -> None:
        """Move the fill line on where it is not one with the unit; its wall keeps it at ambient."""
        if self._line_pa is None:
            return
        setup, pressure = self.setup, self._line_pa
        if not self._screw_closed:
            rise = (self.gas_pressure_pa - pressure) * (1 - math.exp(-dt / OPENING_S))
            self._line_pa += rise
            self.gas_kg -= rise * LINE_VOLUME_M3 / (R_N2 * setup.ambient_k)
            if abs(self._line_pa - self.gas_pressure_pa) < 1.0:
                self._line_pa = None
            return
        above = max(0.0, pressure - setup.ambient_pa)
        room = max(0.0, self.regulator_gauge_pa + setup.ambient_pa - pressure)
        per_kg = R_N2 * setup.ambient_k / LINE_VOLUME_M3
        inflow = self.valve_opening * FILL_CONDUCTANCE * room * per_kg * dt
        outflow = self.vent_opening * VENT_CONDUCTANCE * above * per_kg * dt
        self._line_pa += min(inflow, room / 2) - min(outflow, 0.2 * above)

    def _heat_loss(self) -> float:
        return self._full_gas_j_k() / self.setup.cooling_s

    def _full_gas_j_k(self) -> float:
        return 15e5 * self.gas_volume_m3 / (R_N2 * self.setup.ambient_k) * CV
