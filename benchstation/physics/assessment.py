"""All that follows from a fill and a charge: figures, margins, windows, sensitivities, curves."""

from dataclasses import dataclass, fields

from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.charge_window import ChargeWindow, charge_window
from benchstation.physics.fill_window import FillWindow, fill_window
from benchstation.physics.gas_spring import REFERENCE_K, ChargedDamper, charged_to_specification
from benchstation.physics.geometry import DamperGeometry
from benchstation.physics.limits import DamperLimits, Limit, cavitation_force_n, limit_margins
from benchstation.physics.oil import Oil
from benchstation.physics.travel import TravelCurve, over_travel


@dataclass(frozen=True, slots=True)
class DamperFigures:
    """What follows from oil and charge, SI, absolute pressures.

    ``out`` is the rod fully out, ``bump`` full bump; ``slow`` isothermal, ``fast`` isentropic from
    fully out; ``cold``, ``reference`` and ``hot`` the temperature of oil and gas at the start.
    """

    gas_volume_m3: float
    gas_amount_kg: float
    piston_depth_m: float
    out_cold_pa: float
    out_reference_pa: float
    out_hot_pa: float
    bump_slow_cold_pa: float
    bump_slow_reference_pa: float
    bump_slow_hot_pa: float
    bump_fast_cold_pa: float
    bump_fast_reference_pa: float
    bump_fast_hot_pa: float
    push_force_n: float
    bump_force_n: float
    room_out_cold_m: float
    room_bump_hot_m: float
    clearance_bump_cold_m: float
    cavitation_force_cold_n: float


def damper_figures(
    unit: ChargedDamper, limits: DamperLimits, ambient_pa: float = STANDARD_PRESSURE_PA
) -> DamperFigures:
    """Return the figures of one unit. Raises RangeError where a bump leaves the gas equation."""
    g, cold, hot, reference = (
        unit.geometry,
        limits.cold_limit_k,
        limits.hot_limit_k,
        unit.reference_k,
    )
    volume = unit.gas_volume_m3(reference)
    return DamperFigures(
        gas_volume_m3=volume,
        gas_amount_kg=unit.amount_kg,
        piston_depth_m=g.floating_piston_depth_m(volume),
        out_cold_pa=unit.pressure_pa(cold),
        out_reference_pa=unit.pressure_pa(reference),
        out_hot_pa=unit.pressure_pa(hot),
        bump_slow_cold_pa=unit.full_bump_pa(cold),
        bump_slow_reference_pa=unit.full_bump_pa(reference),
        bump_slow_hot_pa=unit.full_bump_pa(hot),
        bump_fast_cold_pa=unit.full_bump_fast_pa(cold),
        bump_fast_reference_pa=unit.full_bump_fast_pa(reference),
        bump_fast_hot_pa=unit.full_bump_fast_pa(hot),
        push_force_n=g.push_force_n(unit.pressure_pa(reference), ambient_pa),
        bump_force_n=g.push_force_n(unit.full_bump_pa(reference), ambient_pa),
        room_out_cold_m=unit.floating_piston_room_m(cold),
        room_bump_hot_m=unit.floating_piston_room_m(hot, g.stroke_m),
        clearance_bump_cold_m=unit.floating_piston_clearance_m(cold, g.stroke_m),
        cavitation_force_cold_n=cavitation_force_n(unit, cold),
    )


@dataclass(frozen=True, slots=True)
class Build:
    """A damper with its oil (at ``reference_k``), its charge (gauge, rod fully out), its limits."""

    geometry: DamperGeometry
    limits: DamperLimits
    oil_volume_m3: float
    charge_gauge_pa: float
    oil_alpha_per_k: float
    reference_k: float = REFERENCE_K
    ambient_pa: float = STANDARD_PRESSURE_PA
    oil: Oil | None = None

    def unit(self, *, more_oil_m3: float = 0.0, more_charge_pa: float = 0.0) -> ChargedDamper:
        """Return the charged damper, with that much more oil or charge. Raises RangeError."""
        return charged_to_specification(
            self.geometry,
            charge_gauge_pa=self.charge_gauge_pa + more_charge_pa,
            oil_volume_m3=self.oil_volume_m3 + more_oil_m3,
            oil_alpha_per_k=self.oil_alpha_per_k,
            reference_k=self.reference_k,
            reference_ambient_pa=self.ambient_pa,
            oil=self.oil,
        )

    def figures(self, *, more_oil_m3: float = 0.0, more_charge_pa: float = 0.0) -> DamperFigures:
        """Return the figures, with that much more oil or charge. Raises RangeError."""
        unit = self.unit(more_oil_m3=more_oil_m3, more_charge_pa=more_charge_pa)
        return damper_figures(unit, self.limits, self.ambient_pa)

    def fill_window(self) -> FillWindow:
        """Return the least and the most oil at this charge."""
        return fill_window(
            self.geometry,
            self.limits,
            charge_gauge_pa=self.charge_gauge_pa,
            oil_alpha_per_k=self.oil_alpha_per_k,
            reference_k=self.reference_k,
            reference_ambient_pa=self.ambient_pa,
            oil=self.oil,
        )

    def charge_window(self) -> ChargeWindow:
        """Return the least and the most charge with this oil."""
        return charge_window(
            self.geometry,
            self.limits,
            oil_volume_m3=self.oil_volume_m3,
            oil_alpha_per_k=self.oil_alpha_per_k,
            reference_k=self.reference_k,
            reference_ambient_pa=self.ambient_pa,
            oil=self.oil,
        )


_OIL_STEP_M3, _CHARGE_STEP_PA = 1e-8, 1e3


def per_oil_m3(build: Build) -> DamperFigures:
    """Return the change of each figure for each m3 more oil, charged to the same pressure.

    A central difference of 0.01 mL; times 1e-6 it is the change for a millilitre.
    """
    step = _OIL_STEP_M3
    more, less = build.figures(more_oil_m3=step), build.figures(more_oil_m3=-step)
    return _slopes(more, less, 2.0 * step)


def per_charge_pa(build: Build) -> DamperFigures:
    """Return the change of each figure for each Pa more charge; times 1e5, for a bar.

    A central difference of 0.01 bar.
    """
    step = _CHARGE_STEP_PA
    more, less = build.figures(more_charge_pa=step), build.figures(more_charge_pa=-step)
    return _slopes(more, less, 2.0 * step)


def _slopes(more: DamperFigures, less: DamperFigures, step: float) -> DamperFigures:
    names = [field.name for field in fields(DamperFigures)]
    return DamperFigures(
        **{name: (getattr(more, name) - getattr(less, name)) / step for name in names}
    )


@dataclass(frozen=True, slots=True)
class Assessment:
    """A whole check of one build. ``curves`` are cold, reference and hot."""

    unit: ChargedDamper
    figures: DamperFigures
    margins: dict[Limit, float]
    fill: FillWindow
    charge: ChargeWindow
    per_oil_m3: DamperFigures
    per_charge_pa: DamperFigures
    curves: tuple[TravelCurve, TravelCurve, TravelCurve]

    @property
    def holds(self) -> bool:
        """Return True when every limit holds."""
        return all(margin >= 0.0 for margin in self.margins.values())


def assess(build: Build, *, points: int = 61) -> Assessment:
    """Check one build whole: figures, margins, both windows, sensitivities and curves.

    Raises RangeError where the oil leaves no room or a bump leaves the range of the gas equation.
    """
    unit = build.unit()
    cold, reference, hot = (
        over_travel(unit, t, points=points, ambient_pa=build.ambient_pa)
        for t in (build.limits.cold_limit_k, build.reference_k, build.limits.hot_limit_k)
    )
    return Assessment(
        unit=unit,
        figures=damper_figures(unit, build.limits, build.ambient_pa),
        margins=limit_margins(unit, build.limits, build.ambient_pa),
        fill=build.fill_window(),
        charge=build.charge_window(),
        per_oil_m3=per_oil_m3(build),
        per_charge_pa=per_charge_pa(build),
        curves=(cold, reference, hot),
    )
