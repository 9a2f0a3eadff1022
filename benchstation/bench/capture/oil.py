"""Where the oil stands at the bench: what counts already, what a weighing must show, judgement."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.capture.judgement import judged_oil, scale_quality
from benchstation.bench.capture.weighing import Weighing, WeighPlan
from benchstation.bench.shop import Shop
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import MassCaptured, OilJudged, OilLotReceived
from benchstation.domain.oil_balance import (
    SIGNS,
    Mixture,
    Purpose,
    Weighings,
    added_by_lot,
    mixture,
    net_shown_kg,
    weighings_of,
)
from benchstation.domain.oil_target import OilTarget
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Method, Step, StepKind
from benchstation.domain.surroundings import Surroundings
from benchstation.domain.weigh_in import (
    ScaleQuality,
    oil_budget,
    oil_target,
)
from benchstation.metrology.uncertainty import Budget
from benchstation.metrology.window_scatter import Scatter
from benchstation.physics.oil import Oil

MOST_OVER = 1.5
"""More than half over the whole pour is no oil that could be meant."""

Lots = Mapping[str, OilLotReceived]


def oil_of(lot: OilLotReceived) -> Oil:
    """Return a lot's oil."""
    return lot.known


def mixed(rebuild: Rebuild, lots: Lots, parts: Sequence[MassCaptured] | None = None) -> Mixture:
    """Return the oil in the unit: of its lot, or what its lots mixed to."""
    parts = rebuild.counting if parts is None else parts
    oils = {name: oil_of(lot) for name, lot in lots.items()}
    return mixture(added_by_lot(parts, rebuild.opened.oil_lot), oils, rebuild.oil_lot)


def main_purpose(step: Step) -> Purpose:
    """Return what a step weighs if nothing else was chosen."""
    return Purpose.POUR if step.kind is StepKind.WEIGH else Purpose.BLEED


def weighing_for(
    rebuild: Rebuild,
    step: Step,
    scale: BenchInstrument,
    purpose: Purpose | None = None,
    again: bool = False,
) -> Weighing:
    """Begin a weighing at a weigh or bleed step.

    The unit's weighing before the pour is a fact about the unit, not about the tare: on the same
    scale it holds over a lost tare, a restart, and a step back from the bleed; not over a step back
    to an earlier one, where parts change, or once the unit is closed. The scale's zero is proven
    anew before the unit comes back.
    """
    purpose = purpose or main_purpose(step)
    fill = rebuild.specification.oil
    most = MOST_OVER * (fill.volume + fill.bleed_allowance) * fill.typical_rho15
    plan = WeighPlan(purpose, most_kg=most, again=again)
    if purpose.adds:
        method, lot = rebuild.method, rebuild.oil_lot
        known = _before(rebuild, step, scale, lot) if method is Method.DIFFERENCE else None
        plan = WeighPlan(
            purpose,
            method,
            lot,
            most,
            again,
            known.portion if known else None,
            known.shown_kg if known else None,
            _scatter_of(known) if known else None,
        )
    gap = scale.instrument.stale_after_s
    weighing = Weighing(
        rebuild.specification.steadiness, longest_gap_s=gap, plan=plan, filter_s=scale.filter_s
    )
    if rebuild.uncaptured is not None and not again:
        # The same oil is still in the unit and in no record, whatever is weighed next.
        weighing.uncaptured_kg = rebuild.uncaptured.uncaptured_kg
    return weighing


def _before(rebuild: Rebuild, step: Step, scale: BenchInstrument, lot: str) -> MassCaptured | None:
    captured = _last_before(rebuild, step, lot)
    return captured if captured is not None and _weighed_on(captured, scale) else None


def _last_before(rebuild: Rebuild, step: Step, lot: str) -> MassCaptured | None:
    for captured in (c.event for c in reversed(rebuild.captures)):
        if (captured.step_id, captured.purpose) == (step.id, Purpose.BEFORE):
            return captured if captured.oil_lot == lot else None
    return None


def _scatter_of(captured: MassCaptured) -> Scatter | None:
    if captured.u_repeated_kg is None:
        return None
    return Scatter(captured.u_repeated_kg, captured.dof_repeated or math.inf)


def before_elsewhere(
    rebuild: Rebuild, step: Step, weighing: Weighing, scale: BenchInstrument
) -> bool:
    """Return True when the unit was weighed before the pour, but on another scale or calibration.

    Then it is weighed anew, for the difference of two scales is no mass of oil.
    """
    if not weighing.wants_before:
        return False
    captured = _last_before(rebuild, step, weighing.plan.lot)
    return captured is not None and not _weighed_on(captured, scale)


@dataclass(frozen=True, slots=True)
class PourStatus:
    """What a weighing must show, and what counts beside it. Masses as shown, kg."""

    target: OilTarget
    """Of the oil that is in the unit, or of the lot that will be."""
    own: OilTarget
    """Of the oil that is weighed now."""
    goal_kg: float
    """What this weighing must come to."""
    others: tuple[MassCaptured, ...]
    budget: Budget


def pour_status(
    rebuild: Rebuild,
    step: Step,
    weighing: Weighing,
    lots: Lots,
    scale: BenchInstrument,
    air: Surroundings,
) -> PourStatus:
    """Return where the oil stands. The target is a volume: each lot's mass is turned by its own."""
    plan, specification = weighing.plan, rebuild.specification
    others = tuple(p for p in rebuild.counting if not _is_own(p, plan, step))
    blend = mixed(rebuild, lots, others)
    target = oil_target(specification, blend.oil, air)
    own = oil_target(specification, oil_of(lots[plan.lot]), air) if plan.purpose.adds else target
    fill = specification.oil
    wanted = fill.volume + (fill.bleed_allowance if step.kind is StepKind.WEIGH else 0.0)
    inside = target.net_volume_ref_m3(net_shown_kg(others))
    goal = SIGNS[plan.purpose] * own.shown_kg(wanted - inside)
    differs = plan.method is Method.DIFFERENCE
    scatter = weighing.scatter(rebuild.specification.steadiness.count)
    repeated = scale_quality(scale).repeated(scatter, 4 if differs else 2)
    more = Weighings(int(not differs), int(differs), repeated=(repeated,))
    shown = own if not others else target
    return PourStatus(
        shown, own, goal, others, _budget(shown, blend, lots, scale, others, air, more)
    )


def _is_own(part: MassCaptured, plan: WeighPlan, step: Step) -> bool:
    """Return True when a part is what is being weighed, and goes when that is captured."""
    same = (part.step_id, part.purpose, part.oil_lot) == (step.id, plan.purpose, plan.lot)
    return same and (plan.again or part.portion == plan.portion)


def _budget(
    target: OilTarget,
    blend: Mixture,
    lots: Lots,
    scale: BenchInstrument,
    parts: Sequence[MassCaptured],
    air: Surroundings,
    more: Weighings = Weighings(),  # noqa: B008 - frozen
) -> Budget:
    """Return the budget of these parts, and of ``more`` weighings on the scale that is fitted."""
    shares = {name: (oil_of(lots[name]), share) for name, share in blend.shares.items()}
    here: list[MassCaptured] = []
    elsewhere: dict[str, list[MassCaptured]] = {}
    for part in parts:
        if part.by_hand or _weighed_on(part, scale):
            here.append(part)
        else:
            name = f"{part.instrument_id} {part.calibration}".strip()
            elsewhere.setdefault(name, []).append(part)
    counted = weighings_of(here) + more
    others = {
        name: (_quality_of(weighed, scale), weighings_of(weighed))
        for name, weighed in elsewhere.items()
    }
    quality = scale_quality(scale)
    return oil_budget(
        target,
        blend.oil,
        quality,
        weighings=counted,
        lots=shares,
        others=others,
        u_air_rel=air.u_density_rel(),
        u_temperature_k=air.u_temperature_k,
    )


def _weighed_on(part: MassCaptured, scale: BenchInstrument) -> bool:
    """Return True when a part was weighed on this scale under the calibration that is in force."""
    same = part.instrument_id == scale.registered.instrument_id
    return same and part.calibration in ("", calibration_of(scale.registered))


def _quality_of(weighed: Sequence[MassCaptured], scale: BenchInstrument) -> ScaleQuality:
    """Return what is known of the scale that weighed these, from what they say of it themselves.

    Captures that were written without their scale's uncertainty are taken to have this one's.
    """
    here = scale_quality(scale)
    step = max(part.resolution_kg for part in weighed) or here.resolution_kg
    known = [part.u_calibration_kg for part in weighed if part.u_calibration_kg is not None]
    return ScaleQuality(step, step / 2, max(known, default=here.u_calibration_kg))


def judged(
    rebuild: Rebuild,
    step: Step,
    parts: Sequence[MassCaptured],
    lots: Lots,
    scale: BenchInstrument,
    air: Surroundings,
) -> OilJudged:
    """Judge what these parts come to, against the target of the oil they mixed to."""
    blend = mixed(rebuild, lots, parts)
    target = oil_target(rebuild.specification, blend.oil, air)
    budget = _budget(target, blend, lots, scale, parts, air)
    return judged_oil(rebuild, step.kind, net_shown_kg(parts), target=target, budget=budget)


def other_lots(rebuild: Rebuild, shop: Shop, today: date) -> dict[str, OilLotReceived]:
    """Return the lots of the same oil that the rest of a pour may come from: open ones."""
    grade = rebuild.specification.oil.grade.casefold()
    return {
        lot.lot: lot
        for lot in shop.open_lots(today)
        if lot.lot != rebuild.oil_lot and lot.oil.casefold() == grade
    }
