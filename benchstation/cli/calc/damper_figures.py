"""Pressures cold, at reference and hot; forces, positions, and all of it at one travel."""

from benchstation.cli.calc.sheet import Sheet
from benchstation.physics import compression
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.assessment import Assessment, Build
from benchstation.physics.gas_spring import ChargedDamper
from benchstation.quantities.units import Dimension, UnitSystem, shown

SPAN = "real gas, third virial, fitted to Span et al. (2000)"
DIXON = "J. C. Dixon, The Shock Absorber Handbook"
_P, _V, _L, _F = Dimension.PRESSURE, Dimension.VOLUME, Dimension.LENGTH, Dimension.FORCE
_T = Dimension.TEMPERATURE
_N_M_PER_LBF_IN = 175.12683524647


def put_pressures(sheet: Sheet, build: Build, found: Assessment) -> None:
    """Put gas volume and pressures, fully out and at full bump, at the three temperatures."""
    for word, kelvin in (
        ("cold", build.limits.cold_limit_k),
        ("reference", build.reference_k),
        ("hot", build.limits.hot_limit_k),
    ):
        sheet.heading(f"{word.capitalize()}, {shown(kelvin, _T, sheet.system)}")
        sheet.put(f"T_{word}", "Temperature of oil and gas", kelvin, _T)
        sheet.put(
            f"V_{word}", "Gas volume, rod fully out", found.unit.gas_volume_m3(kelvin), _V,
            decimals=2, working=f"V_free - V_oil rho(T_ref) / rho(T_{word})",
            source="ASTM D1250-04 / API MPMS 11.1 / ISO 91, lubricating oils",
        )  # fmt: skip
        for symbol, name, key, working in (
            ("p", "Pressure, rod fully out, gauge", f"out_{word}_pa",
             f"p(m / V_{word}, T_{word}) - p0"),
            ("p_slow", "Full bump, slow (isothermal), gauge", f"bump_slow_{word}_pa",
             f"p(m / (V_{word} - A_rod s), T_{word}) - p0"),
            ("p_fast", "Full bump, fast (adiabatic), gauge", f"bump_fast_{word}_pa",
             f"p of m / (V_{word} - A_rod s) at the entropy of fully out - p0"),
        ):  # fmt: skip
            gauge = getattr(found.figures, key) - build.ambient_pa
            sheet.put(f"{symbol}_{word}", name, gauge, _P, working=working, source=SPAN)


def put_forces(sheet: Sheet, build: Build, found: Assessment) -> None:
    """Put push forces, the force before cavitation, and where the floating piston stands."""
    figures, g = found.figures, build.geometry
    recess = f"{g.gas_recess_m3 * 1e6:g} mL"
    room = found.unit.floating_piston_room_m(build.limits.cold_limit_k, g.stroke_m)
    mm = [
        f"{length * 1e3:.2f}"
        for length in (
            g.internal_length_m, g.piston_depth_m, g.stroke_m, room, g.floating_piston_thickness_m
        )
    ]  # fmt: skip
    sheet.heading("Positions and forces")
    for symbol, name, value, dimension, working, figure, source in (
        ("F_out", "Push force, rod fully out, reference", figures.push_force_n, _F,
         "p_reference A_rod", "", "force on the rod's area"),
        ("F_bump", "Push force at full bump, slow, reference", figures.bump_force_n, _F,
         "p_slow_reference A_rod", "", "force on the rod's area"),
        ("F_cav", "Compression force before the rod side cavitates, cold",
         figures.cavitation_force_cold_n, _F, "(p_cold + p0) (A_bore - A_rod)", "", DIXON),
        ("x_cold", "Floating piston from the gas end, fully out, cold", figures.room_out_cold_m,
         _L, f"(V_cold - {recess}) / A_bore", "", ""),
        ("x_hot", "Floating piston from the gas end, full bump, hot", figures.room_bump_hot_m,
         _L, f"(V_hot - A_rod s - {recess}) / A_bore", "", ""),
        ("c_cold", "Floating piston to main piston, full bump, cold",
         figures.clearance_bump_cold_m, _L,
         "L - l_piston - s - (V_cold - A_rod s - V_recess) / A_bore - l_fp",
         " - ".join(mm) + " mm", ""),
    ):  # fmt: skip
        sheet.put(symbol, name, value, dimension, working=working, figures=figure, source=source)


def put_travel(sheet: Sheet, unit: ChargedDamper, bench_k: float, travel: float) -> None:
    """Put pressure, gas force and its rate at one travel, slow and fast."""
    g = unit.geometry
    at = shown(bench_k, _T, sheet.system)
    sheet.heading(f"At {shown(travel, _L, sheet.system)} of travel, {at}")
    sheet.put("x", "Rod travel", travel, _L)
    whole = sheet.put(
        "V_out", "Gas volume, rod fully out", unit.gas_volume_m3(bench_k), _V, decimals=2
    )
    volume = sheet.put(
        "V_x", "Gas volume at this travel", unit.gas_volume_m3(bench_k, travel), _V, decimals=2,
        working="V_out - A_rod x",
    )  # fmt: skip
    slow = unit.pressure_pa(bench_k, travel)
    fast, hot_k = compression.isentropic_end(unit.pressure_pa(bench_k), bench_k, volume / whole)
    density = unit.amount_kg / volume
    slow_k = compression.stiffness_pa(bench_k, density)
    fast_k = compression.stiffness_pa(hot_k, density)
    fast_k *= compression.heat_capacity_ratio_at(hot_k, density)
    for word, pressure, stiffness in (("slow", slow, slow_k), ("fast", fast, fast_k)):
        gauge = pressure - STANDARD_PRESSURE_PA
        sheet.put(
            f"p_{word}_x", f"Pressure, {word}, gauge", gauge, _P, source=SPAN,
            working="p(m / V_x, T) - p0" if word == "slow" else "p of m / V_x at the entropy of "
            "fully out - p0",
        )  # fmt: skip
        sheet.put(
            f"F_{word}_x", f"Gas force, {word}", gauge * g.rod_area_m2, _F,
            working=f"p_{word}_x A_rod", source="force on the rod's area",
        )  # fmt: skip
        sheet.put(
            f"K_{word}", f"Bulk modulus of the gas, {word}", stiffness, _P,
            working="rho (dp/drho)_T" if word == "slow" else "c_p/c_v rho (dp/drho)_T",
            source=SPAN,
        )  # fmt: skip
        rate = g.rod_area_m2**2 * stiffness / volume
        sheet.say(
            f"c_{word}_x", f"Rate of the gas force, {word}", rate, _rate(rate, sheet.system),
            working=f"A_rod^2 K_{word} / V_x", source="definition of the bulk modulus",
        )  # fmt: skip
    sheet.put(
        "c_x", "Floating piston to main piston", unit.floating_piston_clearance_m(bench_k, travel),
        _L, working="L - l_piston - x - (V_x - V_recess) / A_bore - l_fp",
    )  # fmt: skip


def _rate(n_m: float, system: UnitSystem) -> str:
    if system is UnitSystem.INCH_POUND:
        return f"{n_m / _N_M_PER_LBF_IN:.3f} lbf/in"
    return f"{n_m / 1000:.4f} N/mm"
