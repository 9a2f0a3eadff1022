"""Why the target is what it is: every term of the computation, and what follows from the fill."""

from benchstation.bench_view import TermGroup, TermView
from benchstation.metrology.conformity import GUARD_FACTOR
from benchstation.physics.errors import RangeError
from benchstation.physics.oil import Oil
from benchstation.rebuild.specification import Specification, StepKind
from benchstation.station.desk import Desk
from benchstation.station.judging import charge_budget_of, oil_budget_of, oil_goal_kg
from benchstation.station.views.earlier import earlier_groups
from benchstation.station.views.matching import set_groups
from benchstation.words import Words

EXTRA_ML = 6.0
ML = 1e-6
STILL_PA = 1000.0


def why(desk: Desk, words: Words) -> tuple[TermGroup, ...]:
    """Give the terms of the step at hand; before any, those of the specification."""
    rebuild = desk.rebuild
    step = rebuild.current if rebuild else None
    if rebuild is None or step is None:
        return earlier_groups(desk.intake, words) if rebuild is None else ()
    specification = rebuild.specification
    if step.kind in (StepKind.WEIGH, StepKind.BLEED):
        return (
            *_oil(desk, step.kind, words),
            *_this_unit(specification, desk.oil(), _net_volume(desk, step.kind), words),
            _consequences(specification, desk.oil(), specification.oil.volume, words),
        )
    if step.kind is StepKind.CHARGE:
        return _gas(desk, words)
    return (
        *set_groups(desk.matched, words),
        *(earlier_groups(desk.intake, words) if not rebuild.signatures else ()),
        _specified(specification, words),
        _fill(specification, desk.oil(), words),
    )


def _specified(s: Specification, words: Words) -> TermGroup:
    return TermGroup(
        "Specification",
        (
            TermView("Family", s.family),
            TermView("Revision", f"{s.id}, {s.revision}"),
            TermView(
                "Oil",
                f"{words.volume(s.oil.volume)} ± {words.volume(s.oil.tolerance)}",
                f"at {words.temperature(s.oil.reference_temperature)}",
            ),
            TermView(
                "Charge",
                f"{words.gauge(s.gas.gauge_pressure)} ± {words.pressure(s.gas.tolerance)}",
                f"at {words.temperature(s.gas.reference_temperature)}, rod fully out",
            ),
            TermView("Body rating", words.gauge(s.gas.body_rating)),
        ),
    )


def _fill(s: Specification, oil: Oil, words: Words) -> TermGroup:
    window = s.window(oil)
    closed = [c.value if c else "" for c in (window.least_closed_by, window.most_closed_by)]
    return TermGroup(
        "Fill window",
        (
            TermView("Least oil", words.volume(window.least_m3), closed[0]),
            TermView("Most oil", words.volume(window.most_m3), closed[1]),
        ),
    )


def _oil(desk: Desk, kind: StepKind, words: Words) -> tuple[TermGroup, ...]:
    rebuild = desk.unit()
    target, lot = desk.oil_target(), desk.shop.lots[rebuild.opened.oil_lot]
    budget = oil_budget_of(target, desk.oil(), desk.scale, weighings=1)
    u = budget.combined()
    goal = oil_goal_kg(target, kind)
    guard = target.tolerance_kg - GUARD_FACTOR * u
    terms = [
        TermView(
            "Fill volume",
            f"{words.volume(target.volume_m3)} at {words.temperature(target.basis_k)}",
            "specification",
        ),
        TermView("Oil lot", f"{lot.lot}, {lot.oil}", lot.source),
        TermView("Density 15 °C", words.density(target.rho15_kg_m3), lot.source),
        TermView(
            f"Density {words.temperature(target.basis_k)}",
            words.density(target.rho_kg_m3),
            "ASTM D1250-04 / ISO 91" if lot.alpha_per_k is None else "the lot's own expansion",
        ),
        TermView("Mass", words.mass(target.mass_kg, 2), "volume × density"),
        TermView(
            "Air buoyancy",
            words.mass(target.net_shown_kg - target.mass_kg, 2),
            "OIML D 28, weights of 8000 kg/m³",
        ),
        TermView("Net oil, scale shows", words.mass(target.net_shown_kg, 2), strong=True),
    ]
    if kind is StepKind.WEIGH:
        terms.append(
            TermView(
                "For the bleed",
                f"+ {words.mass(target.pour_shown_kg - target.net_shown_kg, 2)}",
                "specification, tipped out again at the mark",
            )
        )
        terms.append(TermView("Pour to", words.mass(target.pour_shown_kg, 2), strong=True))
    judged = (
        TermView("Tolerance", f"± {words.mass(target.tolerance_kg, 2)}", "specification"),
        TermView("Uncertainty u", f"± {words.mass(u, 3)}", "GUM budget, one standard deviation"),
        TermView(
            "Accept inside",
            f"{words.mass(goal - guard)} to {words.mass(goal + guard)}",
            f"JCGM 106: tolerance less {GUARD_FACTOR} u",
            strong=True,
        ),
    )
    here = (
        TermView("Oil temperature", words.temperature(desk.air().temperature_k)),
        TermView("A jug would read", words.volume(target.jug_volume_m3), "at this temperature"),
        TermView(
            "If eyed by volume",
            f"{words.mass(-target.as_poured_difference_kg, 2)}",
            "error of taking the jug for the reference volume",
        ),
    )
    return (
        TermGroup("Target", tuple(terms)),
        TermGroup("Judgement", judged),
        TermGroup("Here", here),
    )


def _bump(s: Specification, oil: Oil, volume_m3: float, words: Words) -> str:
    try:
        unit = s.charged(oil, volume_m3)
        return words.pressure(unit.full_bump_fast_pa(s.limits.hot), 0)
    except RangeError:
        return "locks solid"


def _consequences(s: Specification, oil: Oil, volume_m3: float, words: Words) -> TermGroup:
    more = volume_m3 + EXTRA_ML * ML
    hot = words.temperature(s.limits.hot)
    return TermGroup(
        "What follows",
        (
            TermView("1 mL over", "1 mL less gas"),
            TermView(f"Hot bump, {hot}", _bump(s, oil, volume_m3, words), "absolute, adiabatic"),
            TermView(f"With {EXTRA_ML:.0f} mL more", _bump(s, oil, more, words), "absolute"),
        ),
    )


def _net_volume(desk: Desk, kind: StepKind) -> float | None:
    """Give the oil that would stay in the unit as the scale stands, at the reference; or None."""
    target, sample = desk.oil_target(), desk.scale.instrument.latest()
    poured = desk.unit().capture("pour")
    if sample is None or desk.weighing is None or not desk.weighing.tared:
        return None
    if kind is StepKind.BLEED:
        assert poured is not None
        return target.net_volume_ref_m3(poured.event.shown_kg - sample.value)
    over = sample.value - target.pour_shown_kg
    return target.net_volume_ref_m3(target.net_shown_kg + over) if over > 0 else None


def _this_unit(
    s: Specification, oil: Oil, volume_m3: float | None, words: Words
) -> tuple[TermGroup, ...]:
    """Say what this unit's own deviation does, once it is worth a tenth of the tolerance."""
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


def _gas(desk: Desk, words: Words) -> tuple[TermGroup, ...]:
    rebuild, target = desk.unit(), desk.charge_target
    assert target is not None
    s, oil, limits = rebuild.specification, desk.oil(), desk.watch.limits
    u = charge_budget_of(target, desk.gauge, STILL_PA).combined()
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
                "Bench",
                f"{words.temperature(target.bench_k)}, {words.barometer(target.ambient_pa)}",
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
            TermView("Uncertainty u", f"± {words.pressure(u, 3)}", "GUM, settled"),
            TermView(
                "Accept inside",
                f"{words.pressure(target.target_gauge_pa - accept)} to "
                f"{words.pressure(target.target_gauge_pa + accept)}",
                f"JCGM 106: tolerance less {GUARD_FACTOR} u",
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
            TermView(
                "Floating piston room, hot",
                words.length(unit.floating_piston_room_m(s.limits.hot, s.geometry.stroke)),
            ),
        ),
    )
    return first, second, guard, *_this_unit(s, oil, volume, words), follows
