"""Why the target is what it is: every term of the computation, and what follows from the fill."""

from benchstation.bench.capture.judgement import charge_budget_of, oil_goal_kg
from benchstation.bench.commands.evidence import expected_force
from benchstation.bench.session import BenchSession
from benchstation.bench.targets import oil_in_unit, present_oil_target, present_pour
from benchstation.domain.inputs.given import PushForce
from benchstation.domain.oil_balance import SIGNS, added_by_lot
from benchstation.domain.specification import Specification, StepKind
from benchstation.metrology.conformity import GUARD_FACTOR
from benchstation.physics.errors import RangeError
from benchstation.physics.gas_spring import ChargedDamper
from benchstation.physics.limits import rod_side_pa
from benchstation.physics.oil import Oil
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import fixed
from benchstation.quantities.units import Dimension, shown
from benchstation.screens.bench.air_form import conditions_group
from benchstation.screens.bench.earlier import earlier_groups
from benchstation.screens.bench.matching import set_groups
from benchstation.screens.bench.scales import scale_terms
from benchstation.screens.bench.uncertainty_terms import air_group, budget_group
from benchstation.screens.bench.weighings import weighings_group
from benchstation.screens.fill_words import fill_terms
from benchstation.screens.model.elements import TermGroup, TermView

EXTRA_ML = 6.0
ML = 1e-6
STILL_PA = 1000.0
GUARD_BAND = f"JCGM 106: tolerance less {fixed(GUARD_FACTOR, 3)} u"


def why(session: BenchSession, words: QuantityFormatter) -> tuple[TermGroup, ...]:
    """Return the terms of the step at hand; before any, those of the specification."""
    rebuild = session.rebuild
    step = rebuild.current if rebuild else None
    if rebuild is None or step is None:
        return earlier_groups(session.on_bench.next_unit, words) if rebuild is None else ()
    specification = rebuild.specification
    if rebuild.proof_due:
        # The step itself has not begun again: nothing is weighed or charged yet.
        return (_specified(specification, words), _fill(specification, oil_in_unit(session), words))
    if step.kind in (StepKind.WEIGH, StepKind.BLEED):
        return (
            *_oil(session, step.kind, words),
            *_this_unit(
                specification, oil_in_unit(session), _net_volume(session, step.kind), words
            ),
            _consequences(specification, oil_in_unit(session), specification.oil.volume, words),
        )
    if step.kind is StepKind.CHARGE:
        return _gas(session, words)
    expected = expected_force(session, rebuild, step)
    if expected is not None:
        return (_push_force(expected, words), _specified(specification, words))
    return (
        *set_groups(session.work.matched, words),
        *(earlier_groups(session.on_bench.next_unit, words) if not rebuild.signatures else ()),
        _specified(specification, words),
        _fill(specification, oil_in_unit(session), words),
    )


def _push_force(expected: PushForce, words: QuantityFormatter) -> TermGroup:
    return TermGroup(
        "Expected push force",
        (
            TermView(
                "Gas, rod out",
                words.pressure(expected.gas_pa, 3),
                f"absolute, this fill and charge at {words.temperature(expected.bench_k)}",
            ),
            TermView("Ambient", words.barometer(expected.ambient_pa)),
            TermView("Rod area", str(shown(expected.rod_area_m2, Dimension.AREA, words.system))),
            TermView(
                "Push force",
                words.force(expected.force_n),
                "(gas - ambient) × rod area; friction comes on top",
                strong=True,
            ),
        ),
    )


def _specified(s: Specification, words: QuantityFormatter) -> TermGroup:
    return TermGroup(
        "Specification",
        (
            TermView("Family", s.family),
            TermView("Revision", f"{s.id}, {s.revision}"),
            TermView(
                "Oil",
                f"{words.volume(s.oil.volume)} ± {words.volume(s.oil.tolerance)}",
                f"at {words.temperature(s.oil.reference_temperature)}, weighed by {s.oil.method}",
            ),
            TermView(
                "Charge",
                f"{words.gauge(s.gas.gauge_pressure)} ± {words.pressure(s.gas.tolerance)}",
                f"at {words.temperature(s.gas.reference_temperature)}, rod fully out",
            ),
            TermView("Body rating", words.gauge(s.gas.body_rating)),
        ),
    )


def _fill(s: Specification, oil: Oil, words: QuantityFormatter) -> TermGroup:
    return TermGroup("Fill window", fill_terms(s.window(oil), words))


def _oil(session: BenchSession, kind: StepKind, words: QuantityFormatter) -> tuple[TermGroup, ...]:
    rebuild = session.unit()
    still, weighing = present_pour(session), session.work.weighing
    assert weighing is not None
    target = present_oil_target(session)
    names = list(added_by_lot(rebuild.counting, rebuild.opened.oil_lot)) or [rebuild.oil_lot]
    lots = [session.shop.lots[name] for name in names]
    lot, mixed = lots[0], len(lots) > 1
    source = "lots by volume" if mixed else lot.source
    own = "the lot's own expansion" if not mixed else "the lots' expansion by volume"
    u = still.budget.combined()
    goal = oil_goal_kg(target, kind)
    guard = target.tolerance_kg - GUARD_FACTOR * u
    terms = [
        TermView(
            "Fill volume",
            f"{words.volume(target.volume_m3)} at {words.temperature(target.basis_k)}",
            "specification",
        ),
        TermView("Oil lots" if mixed else "Oil lot", f"{' and '.join(names)}, {lot.oil}", source),
        TermView(f"Density {words.oil_base}", words.density(target.rho15_kg_m3), source),
        TermView(
            f"Density {words.temperature(target.basis_k)}",
            words.density(target.rho_kg_m3),
            own if mixed or lot.alpha_per_k is not None else "ASTM D1250-04 / ISO 91",
        ),
        TermView("Mass", words.mass(target.mass_kg, 2), "volume × density"),
        TermView(
            "Air buoyancy",
            str(words.mass_difference(target.net_shown_kg - target.mass_kg, 2)),
            "OIML D 28, weights of 8000 kg/m³",
        ),
        TermView("Net oil, scale shows", words.mass(target.net_shown_kg, 2), strong=True),
    ]
    if kind is StepKind.WEIGH:
        terms.append(
            TermView(
                "For the bleed",
                str(words.mass_difference(target.pour_shown_kg - target.net_shown_kg, 2)),
                "specification, tipped out again at the mark",
            )
        )
        terms.append(TermView("Pour to", words.mass(target.pour_shown_kg, 2), strong=True))
    judged = (
        TermView("Tolerance", f"± {words.mass(target.tolerance_kg, 2)}", "specification"),
        TermView("Uncertainty U", f"± {words.mass(2 * u, 2)}", "GUM budget, k = 2"),
        TermView(
            "Window",
            f"{words.mass(goal - guard)} to {words.mass(goal + guard)}",
            GUARD_BAND,
            strong=True,
        ),
    )
    here = (
        TermView("Air temperature", words.temperature(session.air().temperature_k)),
        TermView("A jug would read", words.volume(target.jug_volume_m3), "at this temperature"),
        TermView(
            "If measured by eye",
            str(words.mass_difference(-target.as_poured_difference_kg, 2)),
            "error when the jug's mark is used",
        ),
    )
    return (
        TermGroup("Target", tuple(terms)),
        *weighings_group(
            rebuild,
            weighing,
            still,
            words,
            scale_terms(session, rebuild.specification.step_of(kind), words),
        ),
        TermGroup("Judgement", judged),
        budget_group(still.budget, lambda kg: words.mass(kg, 3)),
        TermGroup("Here", here),
        air_group(
            target.volume_m3,
            rebuild.specification.gas.gauge_pressure + session.air().pressure_pa,
            session.air().pressure_pa,
            words,
        ),
    )


def _rod_side(
    s: Specification, unit: ChargedDamper, words: QuantityFormatter
) -> tuple[TermView, ...]:
    if s.limits.rebound_force is None:
        return ()
    try:
        highest_pa = rod_side_pa(unit, s.limits.hot, s.limits.rebound_force)
    except RangeError:
        return (TermView("Rod side in rebound, hot", "locks solid"),)
    rating = f"absolute; the body is rated {words.gauge(s.gas.body_rating)}"
    return (TermView("Rod side in rebound, hot", words.pressure(highest_pa, 1), rating),)


def _bump(s: Specification, oil: Oil, volume_m3: float, words: QuantityFormatter) -> str:
    try:
        unit = s.charged(oil, volume_m3)
        return words.pressure(unit.full_bump_fast_pa(s.limits.hot), 0)
    except RangeError:
        return "locks solid"


def _consequences(
    s: Specification, oil: Oil, volume_m3: float, words: QuantityFormatter
) -> TermGroup:
    more, little = volume_m3 + EXTRA_ML * ML, words.little_oil[1]
    hot = words.temperature(s.limits.hot)
    return TermGroup(
        "What follows",
        (
            TermView(f"{little} over", f"{little} less gas"),
            TermView(f"Hot bump, {hot}", _bump(s, oil, volume_m3, words), "absolute, adiabatic"),
            TermView(
                f"With {words.little_of(EXTRA_ML * ML)} more",
                _bump(s, oil, more, words),
                "absolute",
            ),
        ),
    )


def _net_volume(session: BenchSession, kind: StepKind) -> float | None:
    """Return the oil that would stay in the unit as the scale stands, at the reference; or None."""
    target, sample, weighing = (
        present_oil_target(session),
        session.scale.instrument.latest(),
        session.work.weighing,
    )
    if sample is None or weighing is None or not weighing.tared or weighing.wants_before:
        return None
    still = present_pour(session)
    sign = SIGNS[weighing.plan.purpose]
    off = sign * (weighing.poured_kg(sample.value) - still.goal_kg)
    if kind is StepKind.WEIGH and off <= 0:
        return None
    return target.net_volume_ref_m3(target.net_shown_kg + off)


def _this_unit(
    s: Specification, oil: Oil, volume_m3: float | None, words: QuantityFormatter
) -> tuple[TermGroup, ...]:
    """Return what this unit's own deviation does, once it is worth a tenth of the tolerance."""
    if volume_m3 is None or abs(volume_m3 - s.oil.volume) < 0.1 * s.oil.tolerance:
        return ()
    off = volume_m3 - s.oil.volume
    word = "over" if off > 0 else "short"
    hot, stroke = s.limits.hot, s.geometry.stroke

    def clearance(volume: float) -> str:
        try:
            unit = s.charged(oil, volume)
            return words.length(unit.floating_piston_clearance_m(s.limits.cold, stroke))
        except RangeError:
            return "none"

    was, now = _bump(s, oil, s.oil.volume, words), _bump(s, oil, volume_m3, words)
    return (
        TermGroup(
            f"This unit, {words.volume(abs(off))} {word}",
            (
                TermView(f"Hot bump, {words.temperature(hot)}", f"{was} to {now}", strong=True),
                TermView(
                    "Clearance, cold bump",
                    f"{clearance(s.oil.volume)} to {clearance(volume_m3)}",
                ),
            ),
        ),
    )


def _gas(session: BenchSession, words: QuantityFormatter) -> tuple[TermGroup, ...]:
    rebuild, target, around = session.unit(), session.work.charge_target, session.work.around
    assert target is not None
    assert around is not None
    s, oil, limits = rebuild.specification, oil_in_unit(session), session.watch.limits
    budget = charge_budget_of(target, around, session.gauge, STILL_PA)
    u = budget.combined()
    accept = s.gas.tolerance - GUARD_FACTOR * u
    first = TermGroup(
        "Target",
        (
            TermView(
                "Charge",
                f"{words.gauge(target.charge_gauge_pa)} at {words.temperature(target.reference_k)}",
                "specification, rod fully out",
            ),
            TermView(
                "Gas volume, reference", words.volume(target.gas_volume_ref_m3), "room less net oil"
            ),
            TermView("Oil's expansion", words.volume(-target.oil_expansion_m3)),
            TermView("Gas volume now", words.volume(target.gas_volume_m3)),
            TermView(
                "Nitrogen",
                words.mass(target.amount_kg, 3),
                "real gas, third virial; within 0.02 % of Span et al. 2000",
            ),
            TermView("Target now", words.gauge(target.target_gauge_pa, 3), strong=True),
            TermView("Per kelvin", words.pressure(target.per_k_pa, 3)),
        ),
    )
    second = TermGroup(
        "Judgement",
        (
            TermView("Tolerance", f"± {words.pressure(s.gas.tolerance)}", "specification"),
            TermView("Uncertainty U", f"± {words.pressure(2 * u, 3)}", "GUM, settled, k = 2"),
            TermView(
                "Window",
                f"{words.pressure(target.target_gauge_pa - accept)} to "
                f"{words.pressure(target.target_gauge_pa + accept)}",
                GUARD_BAND,
                strong=True,
            ),
        ),
    )
    guard = TermGroup(
        "Guard",
        (
            TermView("High warning", words.gauge(limits.warning_gauge_pa), "specification"),
            TermView("High limit", words.gauge(limits.limit_gauge_pa), limits.limit_source),
        ),
    )
    judged = rebuild.oil_judged(StepKind.BLEED)
    volume = judged.net_volume_ref_m3 if judged else s.oil.volume
    unit = s.charged(oil, volume)
    bench = target.bench_k
    out = s.geometry.model().push_force_n(unit.pressure_pa(bench), target.ambient_pa)
    follows = TermGroup(
        "What follows",
        (
            TermView("Push force, rod out", words.force(out)),
            TermView(
                "Full bump, here",
                words.pressure(unit.full_bump_fast_pa(bench), 1),
                "absolute, adiabatic",
            ),
            TermView(
                f"Full bump, {words.temperature(s.limits.hot)}",
                _bump(s, oil, volume, words),
                "absolute, adiabatic",
            ),
            *_rod_side(s, unit, words),
            TermView(
                "Floating piston room, hot",
                words.length(unit.floating_piston_room_m(s.limits.hot, s.geometry.stroke)),
            ),
        ),
    )
    return (
        first,
        conditions_group(session, session.conditions(rebuild), words),
        second,
        budget_group(budget, lambda pa: words.pressure(pa, 3)),
        guard,
        *_this_unit(s, oil, volume, words),
        follows,
    )
