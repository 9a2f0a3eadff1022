"""A specification shown: a drawing to scale, curves over travel, windows, limits and margins."""

from collections.abc import Callable

import numpy as np

from benchstation.domain.body_temperature import time_constant_of
from benchstation.domain.disc_stack import SIDES, height_in_words, specified
from benchstation.domain.leak_limits import USUAL_GAUGE, hold_proof
from benchstation.domain.specification import Specification
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.damper import ChargedDamper, Limit, cavitation_force_n, limit_margins
from benchstation.physics.errors import RangeError
from benchstation.physics.oil import Oil
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import significant
from benchstation.quantities.units import Dimension, display_unit, to_display
from benchstation.screens.bench.leak_words import service_group
from benchstation.screens.fill_words import NO_CHARGE, fill_terms, window_in_words
from benchstation.screens.model.elements import (
    CurveView,
    DiscView,
    StackView,
    TermGroup,
    TermView,
    Tone,
)
from benchstation.screens.model.specifications import (
    DrawingView,
    SpecificationDetail,
    SpecificationRow,
)

POINTS = 61
COLD, REFERENCE, HOT = "cold", "reference", "hot"
USUAL_U_K = 1.0
"""How well a unit is known to be at the room's temperature, where none is at hand."""
PISTON_SHARE = 0.35


def detail(
    row: SpecificationRow,
    source: str,
    specification: Specification,
    travel: float,
    at: str,
    words: QuantityFormatter,
) -> SpecificationDetail:
    """Show one specification at a share of its travel, cold, at reference or hot."""
    s = specification
    unit = s.charged(Oil(s.oil.typical_rho15))
    kelvin = temperature(s, at)
    return SpecificationDetail(
        row,
        source,
        (),
        (
            _window(s, words),
            _charge_window(s, words),
            _margins(s, unit, words),
            _figures(s, unit, words),
            service_group(s, hold_proof(s, USUAL_GAUGE, USUAL_U_K, time_constant_of(s)), words),
        ),
        drawing(s, unit, min(1.0, max(0.0, travel)), kelvin, words),
        curves(s, unit, words),
        stacks=stacks(s, words),
    )


def stacks(s: Specification, words: QuantityFormatter) -> tuple[tuple[str, StackView], ...]:
    """Return the disc stacks as specified, to be drawn; none where it has none."""
    if s.stacks is None:
        return ()
    found = []
    for side in SIDES:
        stack = specified(s.stacks, side)
        discs = tuple(DiscView(row.outer_m, row.thickness_m, row.count) for row in stack)
        said = ((height_in_words(stack, words.system), Tone.PLAIN),)
        view = StackView(discs, s.geometry.bore, s.stacks.hub, said)
        found.append((f"{side.capitalize()} stack, {said[0][0]}", view))
    return tuple(found)


def temperature(s: Specification, at: str) -> float:
    """Return the temperature that a word stands for."""
    return {COLD: s.limits.cold, HOT: s.limits.hot}.get(at, s.oil.reference_temperature)


def beside(s: Specification, words: QuantityFormatter) -> dict[str, str]:
    """Return what follows from sizes, fill and charge, by the field that it stands beside."""
    found = s.follows()
    window = window_in_words(s.window(Oil(s.oil.typical_rho15)), words)
    return {
        "oil.volume": (
            f"{window}; floating piston {words.length(found.piston_depth_m)} below the mouth, "
            f"gas length {words.length(found.gas_length_m)}"
        ),
        "gas.gauge_pressure": f"push force {words.force(found.push_force_n)}, rod out",
    }


def _window(s: Specification, words: QuantityFormatter) -> TermGroup:
    window = s.window(Oil(s.oil.typical_rho15))
    specified = TermView(
        "Specified",
        f"{words.volume(s.oil.volume)} ± {words.volume(s.oil.tolerance)}",
        f"at {words.temperature(s.oil.reference_temperature)}, weighed by {s.oil.method}",
        strong=True,
    )
    least, *most = fill_terms(window, words)
    return TermGroup("Fill window", (least, specified, *most, *_unit_mass(s, words)))


def _unit_mass(s: Specification, words: QuantityFormatter) -> tuple[TermView, ...]:
    if s.oil.unit_mass is None:
        return ()
    weight = words.amount(s.oil.unit_mass)
    return (TermView("Unit without oil", weight, "a scale rated for it is chosen"),)


def _charge_window(s: Specification, words: QuantityFormatter) -> TermGroup:
    window = s.charge_window(Oil(s.oil.typical_rho15))
    if window.broken:
        broken = "; ".join(limit.value for limit in window.broken)
        return TermGroup("Charge window", (TermView("Charge", NO_CHARGE, broken),))
    if window.is_empty:
        closed = f"{window.least_closed_by.value}; {window.most_closed_by.value}"
        return TermGroup("Charge window", (TermView("Charge", NO_CHARGE, closed),))
    return TermGroup(
        "Charge window",
        (
            TermView(
                "Least charge",
                words.gauge(window.least_gauge_pa),
                f"limited by: {window.least_closed_by.value}",
            ),
            TermView(
                "Specified charge",
                f"{words.gauge(s.gas.gauge_pressure)} ± {words.pressure(s.gas.tolerance)}",
                f"at {words.temperature(s.gas.reference_temperature)}",
                strong=True,
            ),
            TermView(
                "Most charge",
                words.gauge(window.most_gauge_pa),
                f"limited by: {window.most_closed_by.value}",
            ),
        ),
    )


def _margins(s: Specification, unit: ChargedDamper, words: QuantityFormatter) -> TermGroup:
    shown: dict[Limit, Callable[[float], str]] = {
        Limit.HOT_PRESSURE: words.pressure,
        Limit.ROD_SIDE: words.pressure,
        Limit.GAS_ROOM: words.length,
        Limit.CLEARANCE: words.length,
        Limit.PISTON_TRAVEL: words.length,
        Limit.CAVITATION: words.force,
        Limit.RETURN: words.force,
    }
    terms = tuple(
        TermView(limit.value, f"{shown[limit](margin)} to spare", strong=margin < 0)
        for limit, margin in limit_margins(unit, s.limits_model()).items()
    )
    return TermGroup("Limits and margins", terms)


def _figures(s: Specification, unit: ChargedDamper, words: QuantityFormatter) -> TermGroup:
    geometry, ambient = s.geometry.model(), STANDARD_PRESSURE_PA
    reference = s.oil.reference_temperature

    def at(temperature_k: float) -> str:
        return words.temperature(temperature_k)

    def safe(compute: Callable[[], float], say: Callable[[float], str]) -> str:
        try:
            return say(compute())
        except RangeError:
            return "locks solid"

    more = s.charged(Oil(s.oil.typical_rho15), s.oil.volume + words.little_oil[0])
    bump = safe(lambda: unit.full_bump_fast_pa(s.limits.hot) - ambient, words.gauge)
    step = safe(
        lambda: more.full_bump_fast_pa(s.limits.hot) - unit.full_bump_fast_pa(s.limits.hot),
        words.pressure,
    )
    return TermGroup(
        "What follows",
        (
            TermView(
                "Gas volume, rod out", words.volume(unit.gas_volume_m3(reference)), at(reference)
            ),
            TermView("Gas length, rod out", words.length(s.follows().gas_length_m), at(reference)),
            TermView(
                "Floating piston below the mouth",
                words.length(s.follows().piston_depth_m),
                "rod out, with the specified fill",
            ),
            TermView("Nitrogen", words.mass(unit.amount_kg, 3)),
            TermView(
                "Push force, rod out",
                words.force(geometry.push_force_n(unit.pressure_pa(reference), ambient)),
                at(reference),
            ),
            TermView(
                "Full bump, fast",
                safe(lambda: unit.full_bump_fast_pa(reference) - ambient, words.gauge),
                at(reference),
            ),
            TermView("Full bump, fast, hot", bump, at(s.limits.hot)),
            TermView(f"{words.little_oil[1]} more oil adds", step, "full bump, fast, hot"),
            TermView(
                "Compression force before cavitation",
                words.force(cavitation_force_n(unit, s.limits.cold)),
                f"{at(s.limits.cold)}; Dixon, The Shock Absorber Handbook",
            ),
        ),
    )


def drawing(
    s: Specification, unit: ChargedDamper, travel: float, kelvin: float, words: QuantityFormatter
) -> DrawingView | None:
    """Return the unit to scale; ``None`` where the oil leaves the gas no room."""
    g = s.geometry.model()
    inward = travel * g.stroke_m
    try:
        room = unit.floating_piston_room_m(kelvin, inward)
        pressure = unit.pressure_pa(kelvin, inward)
    except RangeError:
        return None
    face = g.internal_length_m - g.piston_depth_m - inward
    thick = min(g.piston_depth_m, PISTON_SHARE * g.bore_m)
    gauge = words.gauge(pressure - STANDARD_PRESSURE_PA)
    return DrawingView(
        f"{words.length(inward)} of travel, {words.temperature(kelvin)}, {gauge}",
        g.bore_m,
        g.internal_length_m,
        g.rod_diameter_m,
        room,
        room + g.floating_piston_thickness_m,
        face,
        face + thick,
        g.stroke_m - inward,
        g.guide_depth_m,
    )


def curves(
    s: Specification, unit: ChargedDamper, words: QuantityFormatter
) -> tuple[CurveView, ...]:
    """Return gas pressure and gas force over travel: cold and slow, reference, hot and fast."""
    g, system = s.geometry.model(), words.system
    travel = np.linspace(0.0, g.stroke_m, POINTS)
    hot, cold, reference = s.limits.hot, s.limits.cold, s.oil.reference_temperature
    runs: tuple[tuple[str, Tone, Callable[[float], float]], ...] = (
        (f"{words.temperature(cold)}, slow", Tone.QUIET, lambda x: unit.pressure_pa(cold, x)),
        (
            f"{words.temperature(reference)}, slow",
            Tone.PLAIN,
            lambda x: unit.pressure_pa(reference, x),
        ),
        (f"{words.temperature(hot)}, fast", Tone.CAUTION, lambda x: unit.fast_pressure_pa(hot, x)),
    )
    lines = [(name, tone, _safe(run, travel)) for name, tone, run in runs]
    x = np.array([to_display(float(v), Dimension.LENGTH, system) for v in travel])
    x_label = f"rod travel, {display_unit(Dimension.LENGTH, system)}"
    ambient, area = STANDARD_PRESSURE_PA, g.rod_area_m2
    pressure = tuple(
        (name, tone, _shown(absolute - ambient, Dimension.PRESSURE, words))
        for name, tone, absolute in lines
    )
    force = tuple(
        (name, tone, _shown((absolute - ambient) * area, Dimension.FORCE, words))
        for name, tone, absolute in lines
    )
    rating = to_display(s.gas.body_rating, Dimension.PRESSURE, system)
    unit_name = display_unit(Dimension.PRESSURE, system)
    return (
        CurveView(
            f"Gas pressure, {unit_name} gauge",
            x_label,
            x,
            pressure,
            ((f"body rating {significant(rating, 4)}", rating, Tone.DANGER),),
        ),
        CurveView(f"Gas force, {display_unit(Dimension.FORCE, system)}", x_label, x, force),
    )


def _safe(run: Callable[[float], float], travel: np.ndarray) -> np.ndarray:
    values = np.full(travel.shape, np.nan)
    for n, x in enumerate(travel):
        try:
            values[n] = run(float(x))
        except RangeError:
            break
    return values


def _shown(values: np.ndarray, dimension: Dimension, words: QuantityFormatter) -> np.ndarray:
    return np.array([to_display(float(v), dimension, words.system) for v in values])
