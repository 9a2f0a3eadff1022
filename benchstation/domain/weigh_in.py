"""Oil weigh-in: from the specified volume to what the scale must show, and the judgement of it.

Buoyancy by method. A scale adjusted with conventional-mass weights (OIML D 28) shows, for a change
of true mass dm and of displaced air volume dV, ``dW = (dm - rho_a dV) / (1 - rho_a / 8000)``.

- Gain, body open: oil m comes in, and takes the place of air that was in the body. What the scale
  carries is the oil in air: dm = m, dV = m / rho, so ``dW = m f`` with
  ``f = (1 - rho_a/rho) / (1 - rho_a/8000)``.
- Loss, jug open: the same oil leaves, and air takes its place: ``dW = -m f``.
- Difference: what the unit itself displaces is there both times and cancels. Open, it is the gain
  once more. Closed both times, its outer volume stays (dV = 0), but the air that the oil drove out
  before it was closed is gone from the inside: dm = m - rho_a m / rho, which is ``m f`` again. Only
  oil that is let into a closed unit while no air leaves would show as ``m / (1 - rho_a/8000)``,
  0.14 % more: a unit is weighed with the same openings both times, and its gas is out (the bench
  refuses pressure at this step). Between the two weighings the air changes by a percent or two at
  most; a steel unit of 1 kg then shows less than 1 mg of it.

So ``f`` belongs to the oil that leaves or arrives, and is the same for all three.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchstation.domain.budget_rows import Row, name_of
from benchstation.domain.events import RepeatabilityMeasured
from benchstation.domain.oil_balance import Weighings
from benchstation.domain.oil_target import OilTarget
from benchstation.domain.specification import Specification
from benchstation.domain.surroundings import Surroundings
from benchstation.metrology.conformity import Conformity, judge
from benchstation.metrology.uncertainty import Budget, Contribution, normal, resolution
from benchstation.metrology.window_scatter import Scatter
from benchstation.physics.air import buoyancy_factor
from benchstation.physics.oil import Oil


def oil_target(specification: Specification, oil: Oil, air: Surroundings) -> OilTarget:
    """Return the target mass and what the scale must show.

    Mass does not change with temperature, so the specified volume is converted at its reference
    temperature (ISO 4787 for the usual 20 degC) unless the specification says "as poured".
    Density by ASTM D1250-04 / ISO 91, buoyancy by OIML D 28: ``W = m (1 - rho_a/rho) /
    (1 - rho_a/8000)``.
    """
    fill = specification.oil
    basis_k = air.temperature_k if fill.basis == "as poured" else fill.reference_temperature
    rho = oil.density(basis_k)
    rho_bench = oil.density(air.temperature_k)
    factor = buoyancy_factor(rho_bench, air.air_density_kg_m3())
    mass = fill.volume * rho
    return OilTarget(
        volume_m3=fill.volume,
        allowance_m3=fill.bleed_allowance,
        basis=fill.basis,
        basis_k=basis_k,
        rho15_kg_m3=oil.rho15_kg_m3,
        rho_kg_m3=rho,
        rho_bench_kg_m3=rho_bench,
        mass_kg=mass,
        buoyancy=factor,
        net_shown_kg=mass * factor,
        pour_shown_kg=(fill.volume + fill.bleed_allowance) * rho * factor,
        tolerance_kg=fill.tolerance * rho * factor,
        jug_volume_m3=mass / rho_bench,
        as_poured_difference_kg=fill.volume * (rho - rho_bench),
    )


@dataclass(frozen=True, slots=True)
class ScaleQuality:
    """What is known of the scale: resolution, repeatability of one display, calibration, all kg.

    ``repeatability_dof`` are the degrees of freedom of the scale's study; half a digit, taken where
    there is no study, is known to a quarter of itself at best (JCGM 100 G.4.2).
    """

    resolution_kg: float
    repeatability_kg: float
    u_calibration_kg: float
    repeatability_dof: float = 9.0

    def repeated(self, scatter: Scatter | None, displays: int) -> Scatter:
        """Return what a net mass of so many displays scatters by: the larger of both.

        The windows of one weighing do not see what putting a load on anew does, and a study does
        not see this day's draught.
        """
        usual = Scatter(displays**0.5 * self.repeatability_kg, self.repeatability_dof)
        return scatter if scatter is not None and scatter.u > usual.u else usual


def quality_of(
    step_kg: float, u_calibration_kg: float, study: RepeatabilityMeasured | None
) -> ScaleQuality:
    """Return what is known of a scale: by its study, half a digit where there is none."""
    if study is None:
        return ScaleQuality(step_kg, step_kg / 2, u_calibration_kg)
    # The study's is that of loaded less empty, which are two displays.
    return ScaleQuality(step_kg, study.std / 2**0.5, u_calibration_kg, study.dof)


def weighing_u_kg(scale: ScaleQuality) -> float:
    """Return the standard uncertainty of one tared weighing on this scale, kg."""
    display = scale.resolution_kg**2 / 12 + scale.repeatability_kg**2
    return float((2 * display + scale.u_calibration_kg**2) ** 0.5)


def _scale_rows(scale: ScaleQuality, counted: Weighings, name: str) -> tuple[Contribution, ...]:
    displays = (2 * counted.tared + 4 * counted.differences) ** 0.5
    repeated = _together(counted.repeated) or Scatter(
        displays * scale.repeatability_kg, scale.repeatability_dof
    )
    calibrations = (float(counted.tared > 0) + 2 * counted.differences) ** 0.5
    return (
        resolution(name_of(Row.SCALE_RESOLUTION, name), scale.resolution_kg, sensitivity=displays),
        normal(name_of(Row.SCALE_REPEATABILITY, name), repeated.u, dof=repeated.dof),
        normal(
            name_of(Row.SCALE_CALIBRATION, name), scale.u_calibration_kg, sensitivity=calibrations
        ),
    )


def _together(repeated: Sequence[Scatter]) -> Scatter | None:
    """Return the scatter of a sum, with its degrees of freedom by Welch and Satterthwaite."""
    variance = sum(one.u**2 for one in repeated)
    if not variance:
        return None
    spent = sum((one.u**2 / variance) ** 2 / one.dof for one in repeated)
    return Scatter(float(variance**0.5), 1.0 / spent if spent else math.inf)


def oil_budget(
    target: OilTarget,
    oil: Oil,
    scale: ScaleQuality,
    *,
    weighings: int | Weighings,
    lots: Mapping[str, tuple[Oil, float]] | None = None,
    others: Mapping[str, tuple[ScaleQuality, Weighings]] | None = None,
    u_air_rel: float = 0.02,
    u_temperature_k: float = 0.0,
) -> Budget:
    """Return the uncertainty budget (GUM) of net oil minus target, in shown kg.

    ``weighings`` counts the captured masses in the net (pour, bleed, ...). A tared one is the
    difference of two displays, tare and gross, so resolution and repeatability enter twice for
    each. A weighing by difference has four: zero and gross, before and after. Where the masses say
    what they scatter by, that is taken.

    The density counts at the temperature of the specified volume: with the expansion's uncertainty,
    and with that of the oil's temperature (``u_temperature_k``) where the volume is as poured.

    Calibration: tared masses of one scale share its adjustment and are small, so it enters once for
    their sum. By difference the loads are large and near each other. JCGM 100 5.2.2 (13) would let
    what is common to both cancel; a certificate with one figure does not say which part that is, so
    none of it is taken to: before and after count as independent, which is the larger value.

    A mass typed by hand has its own, never less than a weighing on this scale. ``lots`` gives each
    lot and its share of the mass where there are several.

    ``others`` are what was weighed on another scale, or on this one under another calibration, each
    by its name. Their calibrations are not this one's error: they enter each for itself.
    """
    counted = Weighings(weighings) if isinstance(weighings, int) else weighings
    least = weighing_u_kg(scale)
    typed = sum(max(u, least) ** 2 for u in counted.by_hand) ** 0.5
    densities = [
        normal(
            name_of(Row.OIL_DENSITY, lot),
            part.u_rel_at(target.basis_k),
            sensitivity=share * target.net_shown_kg,
        )
        for lot, (part, share) in (lots or {}).items()
    ]
    if len(densities) < 2:
        densities = [
            normal(
                Row.OIL_DENSITY,
                oil.u_rel_at(target.basis_k),
                sensitivity=target.net_shown_kg,
            ),
        ]
    if target.basis == "as poured":
        slope = oil.mean_expansion_per_k(target.basis_k, target.basis_k) * target.net_shown_kg
        densities.append(normal(Row.OIL_TEMPERATURE, u_temperature_k, sensitivity=slope))
    return Budget(
        (
            *_scale_rows(scale, counted, ""),
            *(
                row
                for name, (other, weighed) in (others or {}).items()
                for row in _scale_rows(other, weighed, name)
            ),
            *([normal(Row.BY_HAND, typed)] if counted.by_hand else []),
            *densities,
            normal(
                Row.AIR_BUOYANCY,
                u_air_rel,
                sensitivity=target.mass_kg * abs(1 - target.buoyancy),
            ),
        )
    )


def judge_oil(net_shown_kg: float, target: OilTarget, budget: Budget) -> Conformity:
    """Judge net oil against target and tolerance: pass, fail or undecided (JCGM 106)."""
    return judge(
        net_shown_kg - target.net_shown_kg,
        budget.combined(),
        lower=-target.tolerance_kg,
        upper=target.tolerance_kg,
    )


@dataclass(frozen=True, slots=True)
class Pour:
    """A pour as it runs: flow in kg/s, and the mass where it lands if stopped now."""

    flow_kg_s: float
    landing_kg: float
    seconds_to_target: float | None


def watch_pour(
    at_s: NDArray[np.float64],
    shown_kg: NDArray[np.float64],
    target_kg: float,
    *,
    response_s: float,
) -> Pour:
    """Estimate flow and landing from the last samples, shape (n,), at least 3 spread in time.

    The flow is the least-squares slope; oil still in the air and the scale's filter delay the
    display by ``response_s``, so the pour lands at ``shown + flow * response_s``.
    """
    last = float(shown_kg[-1]) if shown_kg.size else 0.0
    if at_s.size < 3 or float(at_s[-1] - at_s[0]) <= 0:
        return Pour(0.0, last, None)
    t = at_s - at_s.mean()
    slope = float((t * (shown_kg - shown_kg.mean())).sum() / (t * t).sum())
    flow = max(slope, 0.0)
    landing = last + flow * response_s
    togo = target_kg - landing
    seconds = togo / flow if flow > 2e-4 and togo > 0 else None
    return Pour(slope, landing, seconds)
