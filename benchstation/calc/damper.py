"""``calc damper``: what follows from a specification's fill and charge, and what may be changed."""

import argparse

from benchstation.calc.damper_windows import put_limits, put_sensitivities, put_windows
from benchstation.calc.given import Given, Option
from benchstation.calc.sheet import Sheet
from benchstation.calc.surroundings import add_ambient, ambient_pa
from benchstation.calc.unit import Unit, add_unit, refused, unit_of
from benchstation.driver_api.errors import StationError
from benchstation.physics import compression
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.assessment import Assessment, assess
from benchstation.physics.damper import charge_target_pa
from benchstation.physics.errors import RangeError
from benchstation.physics.gas_spring import ChargedDamper
from benchstation.units import Dimension, UnitSystem, shown

BENCH = Option("bench", "temperature at the bench", Dimension.TEMPERATURE, "20 degC", "-20 degC",
               "120 degC")  # fmt: skip
TRAVEL = Option("travel", "rod travel into the body", Dimension.LENGTH, "75 mm", "0 mm", "3 m")
SPAN = "real gas, third virial, fitted to Span et al. (2000)"
DIXON = "Dixon, The Shock Absorber Handbook"
_P, _V, _L, _F = Dimension.PRESSURE, Dimension.VOLUME, Dimension.LENGTH, Dimension.FORCE


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare the options of this sheet."""
    add_unit(parser)
    BENCH.add_to(parser)
    TRAVEL.add_to(parser)
    add_ambient(parser)


def damper_sheet(given: Given, system: UnitSystem) -> Sheet:
    """Give pressures, forces, positions, limits, windows and sensitivities of one build."""
    sheet = Sheet(system)
    unit = unit_of(given)
    bench_k = given.maybe(BENCH) or unit.build.reference_k
    travel = given.maybe(TRAVEL) or 0.0
    stroke = unit.build.geometry.stroke_m
    if travel > stroke:
        raise StationError(
            f"'{given.text(TRAVEL.name)}' is out of range.",
            where=f"--{TRAVEL.name}",
            advice=f"Allowed is 0 to {shown(stroke, _L, system)}, the stroke.",
        )
    try:
        found = assess(unit.build)
    except RangeError as error:
        raise refused(unit.build, error, system) from error
    _fill(sheet, unit, found)
    _target(sheet, unit, bench_k, given)
    _full_length_and_bump(sheet, unit, found)
    _at_travel(sheet, found.unit, bench_k, travel)
    put_limits(sheet, found)
    put_windows(sheet, unit.build, found)
    put_sensitivities(sheet, found)
    return sheet


def _fill(sheet: Sheet, unit: Unit, found: Assessment) -> None:
    build, g = unit.build, unit.build.geometry
    sheet.heading(f"{unit.specification.title}, revision {unit.specification.revision}")
    sheet.put(
        "V_free", "Room for oil and gas, rod fully out", g.free_volume_m3, _V, decimals=2,
        working="pi/4 D^2 (L - l_fp) + V_recess - V_hardware",
        figures=f"pi/4 × {g.bore_m * 1e3:g}^2 ({g.internal_length_m * 1e3:g} - "
        f"{g.floating_piston_thickness_m * 1e3:g}) / 1000 + {g.gas_recess_m3 * 1e6:g} - "
        f"{g.hardware_volume_m3 * 1e6:g} mL",
        source="volumes of the parts",
    )  # fmt: skip
    sheet.put("V_oil", "Oil at the reference temperature", build.oil_volume_m3, _V, decimals=2)
    sheet.put("T_ref", "Reference temperature", build.reference_k, Dimension.TEMPERATURE)
    sheet.put(
        "a_oil", "Mean expansion of the oil up to the hot limit", build.oil_alpha_per_k,
        Dimension.EXPANSION, working="(rho(T_ref) / rho(T_hot) - 1) / (T_hot - T_ref)",
        source="ASTM D1250-04 / API MPMS 11.1 / ISO 91, lubricating oils",
    )  # fmt: skip
    volume = sheet.put(
        "V_gas", "Gas volume, rod fully out", found.figures.gas_volume_m3, _V, decimals=2,
        working="V_free - V_oil",
    )  # fmt: skip
    sheet.put(
        "z_fp", "Floating piston's depth from the tube's mouth", found.figures.piston_depth_m, _L,
        working="l_guide + L - (V_gas - V_recess)/A_bore - l_fp",
    )  # fmt: skip
    sheet.put(
        "s_fp", "Floating piston's travel, out to bump",
        g.floating_piston_travel_m(g.stroke_m), _L, working="stroke (d/D)^2",
        figures=f"{g.stroke_m * 1e3:g} ({g.rod_diameter_m * 1e3:g}/{g.bore_m * 1e3:g})^2 mm",
    )  # fmt: skip
    sheet.put("p_c", "Charge at the reference temperature, gauge", build.charge_gauge_pa, _P)
    sheet.put(
        "m", "Nitrogen", found.figures.gas_amount_kg, Dimension.MASS, decimals=3,
        working="V_gas rho(p_c + 1.01325 bar, T_ref)",
        figures=f"{volume:.4e} × {found.figures.gas_amount_kg / volume:.4f} kg", source=SPAN,
    )  # fmt: skip


def _target(sheet: Sheet, unit: Unit, bench_k: float, given: Given) -> None:
    build = unit.build
    sheet.heading(f"Charging at the bench, {shown(bench_k, Dimension.TEMPERATURE, sheet.system)}")
    target = charge_target_pa(
        build.geometry,
        charge_gauge_pa=build.charge_gauge_pa,
        oil_volume_m3=build.oil_volume_m3,
        oil_alpha_per_k=unit.oil.mean_expansion_per_k(build.reference_k, bench_k),
        bench_k=bench_k,
        ambient_pa=ambient_pa(given, sheet),
        reference_k=build.reference_k,
    )
    sheet.put(
        "dV_oil", "Oil's expansion", target.oil_expansion_m3, _V, decimals=2,
        working="V_oil a (T_bench - T_ref)",
        source="ASTM D1250-04 / API MPMS 11.1 / ISO 91, lubricating oils",
    )  # fmt: skip
    sheet.put(
        "V_bench", "Gas volume at the bench", target.gas_volume_m3, _V, decimals=2,
        working="V_gas - dV_oil",
    )  # fmt: skip
    sheet.put(
        "p_t", "Gauge must show, rod fully out", target.target_gauge_pa, _P, decimals=3,
        working="p(m/V_bench, T_bench) - p_amb", source=SPAN,
    )  # fmt: skip


def _full_length_and_bump(sheet: Sheet, unit: Unit, found: Assessment) -> None:
    limits, figures, ambient = unit.build.limits, found.figures, STANDARD_PRESSURE_PA
    rows = (
        ("cold", limits.cold_limit_k),
        ("reference", unit.build.reference_k),
        ("hot", limits.hot_limit_k),
    )
    for word, kelvin in rows:
        at = shown(kelvin, Dimension.TEMPERATURE, sheet.system)
        sheet.heading(f"{word.capitalize()}, {at}")
        for symbol, name, key, working in (
            ("p", "Pressure, rod fully out, gauge", f"out_{word}_pa",
             "p(m/V, T) - 1.01325 bar, V = V_free - V_oil (1 + a_oil (T - T_ref))"),
            ("p_slow", "Full bump, slow (isothermal), gauge", f"bump_slow_{word}_pa",
             "p(m/(V - A_rod stroke), T) - 1.01325 bar"),
            ("p_fast", "Full bump, fast (adiabatic), gauge", f"bump_fast_{word}_pa",
             "p at the entropy of the start - 1.01325 bar"),
        ):  # fmt: skip
            sheet.put(f"{symbol}_{word}", name, getattr(figures, key) - ambient, _P,
                      working=working, source=SPAN)  # fmt: skip
    sheet.heading("Positions and forces")
    for symbol, name, value, dimension, working, source in (
        ("F_out", "Push force, rod fully out, reference", figures.push_force_n, _F,
         "(p - p_amb) A_rod", ""),
        ("F_bump", "Push force at full bump, slow, reference", figures.bump_force_n, _F,
         "(p - p_amb) A_rod", ""),
        ("F_cav", "Compression force before the rod side cavitates, cold",
         figures.cavitation_force_cold_n, _F, "p_gas (A_bore - A_rod)", DIXON),
        ("x_cold", "Floating piston from the gas end, fully out, cold", figures.room_out_cold_m,
         _L, "(V_gas(T_cold) - V_recess) / A_bore", ""),
        ("x_hot", "Floating piston from the gas end, full bump, hot", figures.room_bump_hot_m,
         _L, "(V_gas(T_hot) - A_rod stroke - V_recess) / A_bore", ""),
        ("c_cold", "Floating piston to main piston, full bump, cold",
         figures.clearance_bump_cold_m, _L, "L - l_piston - stroke - x - l_fp", ""),
    ):  # fmt: skip
        sheet.put(symbol, name, value, dimension, working=working, source=source)


def _at_travel(sheet: Sheet, unit: ChargedDamper, bench_k: float, travel: float) -> None:
    system, g = sheet.system, unit.geometry
    at = shown(bench_k, Dimension.TEMPERATURE, system)
    sheet.heading(f"At {shown(travel, _L, system)} of travel, {at}")
    volume = sheet.put(
        "V_x", "Gas volume", unit.gas_volume_m3(bench_k, travel), _V, decimals=2,
        working="V - A_rod x",
    )  # fmt: skip
    slow = unit.pressure_pa(bench_k, travel)
    fast, hot_k = compression.isentropic_end(
        unit.pressure_pa(bench_k), bench_k, volume / unit.gas_volume_m3(bench_k)
    )
    density = unit.amount_kg / volume
    slow_k = compression.stiffness_pa(bench_k, density)
    fast_k = compression.stiffness_pa(hot_k, density)
    fast_k *= compression.heat_capacity_ratio_at(hot_k, density)
    for word, pressure, stiffness in (("slow", slow, slow_k), ("fast", fast, fast_k)):
        gauge = pressure - STANDARD_PRESSURE_PA
        sheet.put(f"p_{word}_x", f"Pressure, {word}, gauge", gauge, _P, source=SPAN)
        sheet.put(
            f"F_{word}_x", f"Gas force, {word}", gauge * g.rod_area_m2, _F,
            working=f"p_{word}_x A_rod",
        )  # fmt: skip
        rate = g.rod_area_m2**2 * stiffness / volume
        sheet.say(
            f"c_{word}_x", f"Rate of the gas force, {word}", rate, f"{rate / 1000:.4f} N/mm",
            working="A_rod^2 K / V_x, K: bulk modulus of the gas",
            source="definition of the bulk modulus",
        )  # fmt: skip
    sheet.put(
        "c_x", "Floating piston to main piston",
        unit.floating_piston_clearance_m(bench_k, travel), _L,
    )  # fmt: skip
