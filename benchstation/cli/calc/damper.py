"""``calc damper``: what follows from a specification's fill and charge, and what may be changed."""

import argparse

from benchstation.cli.calc.damper_figures import SPAN, put_forces, put_pressures, put_travel
from benchstation.cli.calc.damper_windows import put_limits, put_sensitivities, put_windows
from benchstation.cli.calc.given import Given, Option
from benchstation.cli.calc.sheet import Sheet
from benchstation.cli.calc.surroundings import add_ambient, ambient_pa
from benchstation.cli.calc.unit import Unit, add_unit, refused, unit_of
from benchstation.driver_api.errors import StationError
from benchstation.physics.assessment import Assessment, assess
from benchstation.physics.damper import charge_target_pa
from benchstation.physics.errors import RangeError
from benchstation.quantities.notation import scientific
from benchstation.quantities.units import Dimension, UnitSystem, shown

BENCH = Option("bench", "air temperature", Dimension.TEMPERATURE, "20 degC", "-20 degC",
               "120 degC")  # fmt: skip
TRAVEL = Option("travel", "rod travel into the body", Dimension.LENGTH, "75 mm", "0 mm", "3 m")
_P, _V, _L = Dimension.PRESSURE, Dimension.VOLUME, Dimension.LENGTH


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare the options of this sheet."""
    add_unit(parser)
    BENCH.add_to(parser)
    TRAVEL.add_to(parser)
    add_ambient(parser)


def work_out(given: Given, system: UnitSystem) -> Sheet:
    """Return pressures, forces, positions, limits, windows and sensitivities of one build."""
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
        raise refused(unit.build, error, system, given) from error
    _fill(sheet, unit, found)
    _target(sheet, unit, found, bench_k, given)
    put_pressures(sheet, unit.build, found)
    put_forces(sheet, unit.build, found)
    put_travel(sheet, found.unit, bench_k, travel)
    put_limits(sheet, found)
    put_windows(sheet, unit.build, found)
    put_sensitivities(sheet, found)
    return sheet


def _fill(sheet: Sheet, unit: Unit, found: Assessment) -> None:
    build, g = unit.build, unit.build.geometry
    sheet.heading(f"{unit.specification.title}, revision {unit.specification.revision}")
    sheet.put("s", "Stroke", g.stroke_m, _L)
    sheet.put(
        "A_bore", "Area of the bore", g.bore_area_m2, Dimension.AREA, working="pi/4 D^2",
        figures=f"pi/4 × ({g.bore_m * 1e3:g} mm)^2",
    )  # fmt: skip
    sheet.put(
        "A_rod", "Area of the rod", g.rod_area_m2, Dimension.AREA, working="pi/4 d^2",
        figures=f"pi/4 × ({g.rod_diameter_m * 1e3:g} mm)^2",
    )  # fmt: skip
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
    volume = sheet.put(
        "V_gas", "Gas volume, rod fully out", found.figures.gas_volume_m3, _V, decimals=2,
        working="V_free - V_oil",
    )  # fmt: skip
    sheet.put(
        "z_fp", "Floating piston's depth from the tube's mouth", found.figures.piston_depth_m, _L,
        working="l_guide + L - (V_gas - V_recess) / A_bore - l_fp",
        figures=f"{g.guide_depth_m * 1e3:g} mm + {g.internal_length_m * 1e3:g} mm - "
        f"({volume * 1e6:.2f} mL - {g.gas_recess_m3 * 1e6:g} mL) / {g.bore_area_m2 * 1e6:.1f} mm² "
        f"- {g.floating_piston_thickness_m * 1e3:g} mm",
    )  # fmt: skip
    sheet.put(
        "s_fp", "Floating piston's travel, out to bump",
        g.floating_piston_travel_m(g.stroke_m), _L, working="s A_rod / A_bore",
    )  # fmt: skip
    sheet.put(
        "p0", "Standard atmosphere, to which gauge figures refer", build.ambient_pa, _P, decimals=4,
        source="ISO 2533",
    )  # fmt: skip
    sheet.put("p_c", "Charge at the reference temperature, gauge", build.charge_gauge_pa, _P)
    sheet.put(
        "m", "Nitrogen", found.figures.gas_amount_kg, Dimension.MASS, decimals=3,
        working="V_gas rho(p_c + p0, T_ref)",
        figures=f"{volume * 1e6:.3f} mL × {found.figures.gas_amount_kg / volume:.5f} kg/m3",
        source=SPAN,
    )  # fmt: skip


def _target(sheet: Sheet, unit: Unit, found: Assessment, bench_k: float, given: Given) -> None:
    build = unit.build
    sheet.heading(f"Charging at the bench, {shown(bench_k, Dimension.TEMPERATURE, sheet.system)}")
    target = charge_target_pa(
        build.geometry,
        charge_gauge_pa=build.charge_gauge_pa,
        oil_volume_m3=build.oil_volume_m3,
        oil_alpha_per_k=found.unit.oil_alpha_at(bench_k),
        bench_k=bench_k,
        ambient_pa=ambient_pa(given, sheet),
        reference_k=build.reference_k,
    )
    sheet.put(
        "dV_oil", "Oil's expansion", target.oil_expansion_m3, _V, decimals=2,
        working="V_oil (rho(T_ref) / rho(T_bench) - 1)",
        figures=f"{build.oil_volume_m3 * 1e6:.2f} mL × "
        f"{scientific(found.unit.oil_alpha_at(bench_k), 5)} 1/K "
        f"× {bench_k - build.reference_k:.2f} K",
        source="ASTM D1250-04 / API MPMS 11.1 / ISO 91, lubricating oils",
    )  # fmt: skip
    sheet.put(
        "V_bench", "Gas volume at the bench", target.gas_volume_m3, _V, decimals=2,
        working="V_gas - dV_oil",
    )  # fmt: skip
    sheet.put(
        "p_t", "Gauge must show, rod fully out", target.target_gauge_pa, _P, decimals=3,
        working="p(m / V_bench, T_bench) - p_amb", source=SPAN,
    )  # fmt: skip
