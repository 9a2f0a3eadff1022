"""Measured values of the bench turned into the events that record and judge them."""

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.capture.charging import SettledCharge
from benchstation.domain.body_temperature import BodyTemperature
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import ChargeCaptured, HoldTested, OilJudged
from benchstation.domain.gas_charge import (
    GaugeQuality,
    charge_budget,
    judge_charge,
    judge_hold,
)
from benchstation.domain.oil_target import OilTarget
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.record import stamp
from benchstation.domain.recorded_parts import BudgetPart, Condition, HoldDrift, ReadByHand
from benchstation.domain.specification import StepKind
from benchstation.domain.surroundings import Surroundings
from benchstation.domain.weigh_in import (
    ScaleQuality,
    judge_oil,
    quality_of,
)
from benchstation.metrology.standstill import Standstill
from benchstation.metrology.uncertainty import Budget
from benchstation.physics.damper import ChargeTarget
from benchstation.physics.leak import Leak

FloatArray = NDArray[np.float64]
USUAL_MASS_STEP_KG = 1e-4
USUAL_PRESSURE_STEP_PA = 1000.0


def oil_goal_kg(target: OilTarget, kind: StepKind) -> float:
    """Return what the unit must hold: with the bleed allowance before the bleed, net after it."""
    return target.pour_shown_kg if kind is StepKind.WEIGH else target.net_shown_kg


def scale_quality(scale: BenchInstrument) -> ScaleQuality:
    """Return what is known of this scale."""
    step = scale.resolution(USUAL_MASS_STEP_KG)
    return quality_of(step, scale.registered.u_calibration, scale.repeatability)


def judged_oil(
    rebuild: Rebuild,
    kind: StepKind,
    net_shown_kg: float,
    *,
    target: OilTarget,
    budget: Budget,
) -> OilJudged:
    """Judge the oil at the weigh or the bleed step; ``net_shown_kg`` is what stays in the unit."""
    goal = oil_goal_kg(target, kind)
    verdict = judge_oil(net_shown_kg - goal + target.net_shown_kg, target, budget)
    expanded = budget.expanded()
    return OilJudged(
        rebuild.unit_id,
        rebuild.specification.step_of(kind).id,
        goal,
        net_shown_kg,
        net_shown_kg - goal,
        target.tolerance_kg,
        budget.combined(),
        expanded.value,
        expanded.k,
        verdict.decision.value,
        verdict.probability,
        target.net_volume_ref_m3(net_shown_kg),
        target,
        _rows(budget),
    )


def charge_budget_of(
    target: ChargeTarget,
    around: Surroundings,
    gauge: BenchInstrument,
    u_settling_pa: float,
    u_typed_pa: float = 0.0,
    settling_dof: float = math.inf,
    shared: float = 0.0,
) -> Budget:
    """Return uncertainty budget of a settled charge on this gauge, or one at least as uncertain.

    ``around``: the unit's temperature and the barometer, with what they are known to.
    ``u_typed_pa``: what is known of the gauge that a typed value was read on.
    """
    u = max(gauge.registered.u_calibration, u_typed_pa)
    quality = GaugeQuality(gauge.resolution(USUAL_PRESSURE_STEP_PA), u)
    return charge_budget(
        target,
        quality,
        u_settling_pa=u_settling_pa,
        u_temperature_k=around.u_temperature_k,
        u_barometer_pa=around.u_pressure_pa,
        settling_dof=settling_dof,
        shared=shared,
    )


def captured_charge(
    rebuild: Rebuild,
    settled: SettledCharge,
    *,
    target: ChargeTarget,
    around: Surroundings,
    conditions: tuple[Condition, ...],
    gauge: BenchInstrument,
    trace_sha256: str,
    by_hand: ReadByHand | None = None,
    raw: tuple[str, ...] = (),
) -> ChargeCaptured:
    """Judge a settled charge; ``by_hand`` says what a typed one was read on, its ``u_pa`` too."""
    typed_pa = by_hand.u_pa or 0.0 if by_hand is not None else 0.0
    budget = charge_budget_of(
        target,
        around,
        gauge,
        settled.u_settled_pa,
        typed_pa,
        settled.dof_settled,
        settled.shared,
    )
    tolerance = rebuild.specification.gas.tolerance
    verdict = judge_charge(settled.settled_gauge_pa, target, tolerance, budget)
    expanded = budget.expanded()
    return ChargeCaptured(
        rebuild.unit_id,
        rebuild.specification.step_of(StepKind.CHARGE).id,
        "" if by_hand else gauge.registered.instrument_id,
        settled.gauge_pa,
        settled.settled_gauge_pa,
        target.target_gauge_pa,
        tolerance,
        budget.combined(),
        expanded.value,
        expanded.k,
        verdict.decision.value,
        verdict.probability,
        target.bench_k,
        target.ambient_pa,
        target.gas_volume_m3,
        target.amount_kg,
        trace_sha256,
        settled.raw,
        target,
        _rows(budget),
        by_hand,
        raw,
        "" if by_hand else calibration_of(gauge.registered),
        conditions,
    )


def tested_hold(
    rebuild: Rebuild,
    leak: Leak,
    gauge_pa: FloatArray,
    seconds: float,
    *,
    trace_sha256: str,
    still: Standstill,
    body: BodyTemperature,
) -> HoldTested:
    """Judge a hold test against the allowed leak; ``gauge_pa`` are its readings in ``seconds``."""
    allowed = rebuild.specification.hold_leak
    judged = judge_hold(leak, allowed, stuck=still.stuck, body=body.body)
    return HoldTested(
        rebuild.unit_id,
        rebuild.specification.step_of(StepKind.CHARGE).id,
        float(gauge_pa[0]),
        float(gauge_pa[-1]),
        seconds,
        leak.rate_pa_m3_s,
        leak.u_pa_m3_s,
        allowed,
        judged.decision.value,
        trace_sha256,
        still.seconds if still.whole or still.stuck else 0.0,
        still.stuck,
        leak.duration_s,
        leak.u_scatter_pa_m3_s,
        leak.slow_pa_m3_s,
        judged.doubt.value,
        judged.wait_s,
        HoldDrift(
            body.temperature_k,
            body.u_k,
            body.source.value,
            stamp(body.at) if body.at else "",
            body.offset_k,
            body.u_offset_k,
            body.body.tau_s,
            leak.drift.rate_pa_s,
            leak.drift.u_pa_s,
        ),
    )


def _rows(budget: Budget) -> tuple[BudgetPart, ...]:
    return tuple(
        BudgetPart(**_finite(row._asdict()) | {"name": str(row.name)}) for row in budget.rows()
    )


def _finite(row: Mapping[str, Any]) -> dict[str, Any]:
    """Make a row fit for JSON: infinite degrees of freedom become ``None``."""
    return {k: None if isinstance(v, float) and not np.isfinite(v) else v for k, v in row.items()}
