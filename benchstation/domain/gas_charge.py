"""Gas charge: the target for this temperature and this fill, settling, the hold test, judgement."""

import math
from dataclasses import dataclass
from enum import StrEnum

from benchstation.domain.body_temperature import BodyTemperature
from benchstation.domain.budget_rows import Row
from benchstation.domain.specification import Specification
from benchstation.domain.surroundings import Surroundings
from benchstation.metrology.conformity import Conformity, Decision, judge
from benchstation.metrology.uncertainty import Budget, normal, rectangular, resolution
from benchstation.physics.body_temperature import TimeConstant
from benchstation.physics.damper import ChargeTarget, charge_target_pa
from benchstation.physics.leak import SLOW_TAUS_S, Drift, Leak
from benchstation.physics.oil import Oil
from benchstation.quantities.notation import fixed

_SHARED, _OF_TAU = 0.5, 3.0
"""The time constant of a unit is known to a third."""


@dataclass(frozen=True, slots=True)
class GaugeQuality:
    """What is known of the pressure gauge: resolution and calibration, Pa."""

    resolution_pa: float
    u_calibration_pa: float


def target_for(
    specification: Specification, oil: Oil, net_volume_ref_m3: float, around: Surroundings
) -> ChargeTarget:
    """Return the charge to be shown now, rod fully out, for the oil that is really in the unit.

    ``around`` has the unit's own temperature, and the air's pressure.
    """
    gas, reference = specification.gas, specification.oil.reference_temperature
    return charge_target_pa(
        specification.geometry.model(),
        charge_gauge_pa=gas.gauge_pressure,
        oil_volume_m3=net_volume_ref_m3,
        oil_alpha_per_k=oil.mean_expansion_per_k(reference, around.temperature_k),
        bench_k=around.temperature_k,
        ambient_pa=around.pressure_pa,
        reference_k=reference,
    )


def charge_budget(
    target: ChargeTarget,
    gauge: GaugeQuality,
    *,
    u_settling_pa: float,
    u_temperature_k: float,
    u_barometer_pa: float,
    settling_dof: float = math.inf,
    shared: float = 0.0,
) -> Budget:
    """Return the uncertainty budget (GUM) of settled pressure minus target, Pa.

    The unit's temperature moves the target by ``target.per_k_pa``, the barometer one to one. What
    the target leaves out is bounded: it may be anywhere between nothing and its bound. ``shared``
    is the correlation of the settling's error with the temperature's; its term of JCGM 100 (13)
    stands as a row of its own.
    """
    left_out = target.left_out_pa
    of_temperature = abs(target.per_k_pa) * u_temperature_k
    both_pa = math.sqrt(2.0 * shared * u_settling_pa * of_temperature)
    return Budget(
        (
            resolution(Row.GAUGE_RESOLUTION, gauge.resolution_pa),
            normal(Row.GAUGE_CALIBRATION, gauge.u_calibration_pa),
            normal(Row.SETTLING, u_settling_pa, dof=settling_dof),
            normal(
                Row.UNIT_TEMPERATURE,
                u_temperature_k,
                sensitivity=target.per_k_pa,
            ),
            normal(Row.BAROMETER, u_barometer_pa),
            rectangular(Row.TUBE_EXPANSION, left_out.tube_pa),
            rectangular(Row.OIL_COMPRESSION, left_out.oil_pa),
            *([normal(Row.UNIT_DRIFT, both_pa)] if both_pa else []),
        )
    )


def shared(drift: Drift) -> float:
    """Return how far the errors of a settled pressure and of the unit's temperature go together.

    A unit that follows the room more slowly than thought has changed less since it was measured,
    and changes less now. Where its distance from the room is known, that is half of the one error
    and most of the other; where it is not, both come from there and nothing adds up.
    """
    if drift.u_pa_s <= 0.0:
        return 0.0
    return _SHARED * min(1.0, abs(drift.rate_pa_s) / (_OF_TAU * drift.u_pa_s))


def judge_charge(
    settled_gauge_pa: float, target: ChargeTarget, tolerance_pa: float, budget: Budget
) -> Conformity:
    """Judge the settled charge against its target: pass, fail or undecided (JCGM 106)."""
    return judge(
        settled_gauge_pa - target.target_gauge_pa,
        budget.combined(),
        lower=-tolerance_pa,
        upper=tolerance_pa,
    )


def hold_drift(target: ChargeTarget, body: BodyTemperature, seconds: float) -> Drift:
    """Return what the unit's way to the room's temperature does to its pressure over a hold."""
    change_k, u_k = body.change(seconds)
    return Drift(target.per_k_pa * change_k / seconds, target.per_k_pa * u_k / seconds)


class HoldDoubt(StrEnum):
    """Why a hold test is undecided."""

    NONE = ""
    STUCK = "stuck"
    RISE = "rise"
    TEMPERATURE = "temperature"
    SLOW_COOLING = "slow_cooling"
    TOO_COARSE = "too_coarse"
    NEAR_LIMIT = "near_limit"


ANY_BODY = TimeConstant(600.0, 0.5)
"""It says how long another hold would have to be, and decides nothing."""


@dataclass(frozen=True, slots=True)
class HoldJudgement:
    """The decision on a hold test; if undecided why, and after how long another can tell."""

    decision: Decision
    doubt: HoldDoubt = HoldDoubt.NONE
    wait_s: float = 0.0


def judge_hold(
    leak: Leak, allowed_pa_m3_s: float, *, body: TimeConstant, stuck: bool = False
) -> HoldJudgement:
    """Judge a hold test: pass when leak + 2 u is allowed, fail when leak - 2 u is not.

    A rise of pressure that the uncertainty does not explain proves nothing: undecided. One that it
    explains counts as no leak, not as less than none, for no unit gains gas: a hold too unsure to
    show the allowed leak passes nothing. Neither does a gauge that is ``stuck`` (see
    ``metrology/standstill.py``): what would pass is undecided. What the unit's drift to the room or
    a slow second part of its cooling could explain fails nothing.
    """
    rate, u = leak.rate_pa_m3_s, leak.u_pa_m3_s
    if rate + 2 * u < -allowed_pa_m3_s:
        return HoldJudgement(Decision.UNDECIDED, HoldDoubt.RISE)
    if max(rate, 0.0) + 2 * u <= allowed_pa_m3_s:
        passed = HoldJudgement(Decision.PASS)
        return HoldJudgement(Decision.UNDECIDED, HoldDoubt.STUCK) if stuck else passed
    above = rate - 2 * u > allowed_pa_m3_s
    if above and rate - 2 * u - leak.slow_pa_m3_s > allowed_pa_m3_s:
        return HoldJudgement(Decision.FAIL)
    if above:
        return HoldJudgement(Decision.UNDECIDED, HoldDoubt.SLOW_COOLING, SLOW_TAUS_S[0])
    if leak.u_scatter_pa_m3_s < 0.5 * u:
        wait_s = _until_it_can_tell(leak, allowed_pa_m3_s, body)
        return HoldJudgement(Decision.UNDECIDED, HoldDoubt.TEMPERATURE, wait_s)
    if 2 * leak.u_scatter_pa_m3_s > allowed_pa_m3_s:
        longer = 4 * leak.u_scatter_pa_m3_s / allowed_pa_m3_s - 1
        wait_s = leak.duration_s * longer
        return HoldJudgement(Decision.UNDECIDED, HoldDoubt.TOO_COARSE, wait_s)
    return HoldJudgement(Decision.UNDECIDED, HoldDoubt.NEAR_LIMIT)


def _until_it_can_tell(leak: Leak, allowed_pa_m3_s: float, body: TimeConstant) -> float:
    """Return how long the drift takes to fade until a tight unit passes with half the limit."""
    u_drift = math.sqrt(max(leak.u_pa_m3_s**2 - leak.u_scatter_pa_m3_s**2, 0.0))
    bearable = math.sqrt(max((allowed_pa_m3_s / 4) ** 2 - leak.u_scatter_pa_m3_s**2, 0.0))
    if bearable <= 0.0 or u_drift <= bearable:
        return 0.0
    # What is slower than thought fades last.
    return body.tau_s * math.exp(body.u_rel) * math.log(u_drift / bearable)


def stood_still(seconds: float, *, stuck: bool) -> str:
    """Return the words for a hold test in which no digit changed; empty where digits moved."""
    if seconds <= 0.0:
        return ""
    said = f"no digit changed in {fixed(seconds, 0)} s"
    if stuck:
        return f"{said}, though its noise moves them: it seems stuck: check it, hold again"
    return f"{said}; a stuck gauge reads the same"
