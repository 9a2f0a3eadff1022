"""``calc gas``: nitrogen at another temperature or volume, and a fill tool put on it."""

import argparse
from dataclasses import replace

from benchstation.cli.calc.given import Given, Option
from benchstation.cli.calc.oil_given import OIL
from benchstation.cli.calc.sheet import Sheet
from benchstation.cli.calc.surroundings import add_ambient, ambient_pa
from benchstation.physics import compression, nitrogen
from benchstation.physics.damper import ChargedDamper
from benchstation.physics.fill_tool import pressure_after_joining_pa, vented_kg
from benchstation.physics.oil import Oil
from benchstation.quantities.notation import scientific
from benchstation.quantities.units import Dimension, UnitError, UnitSystem

CHARGE = Option("charge", "gauge pressure", Dimension.PRESSURE, "15 bar", "0 bar", "59 bar")
AT = Option("at", "its temperature", Dimension.TEMPERATURE, "20 degC", "-20 degC", "120 degC",
            "20 degC")  # fmt: skip
TO = Option("to", "the other temperature", Dimension.TEMPERATURE, "35 degC", "-20 degC", "120 degC")
VOLUME = Option("volume", "gas volume", Dimension.VOLUME, "90 mL", "1 mL", "100 L")
RATIO = Option("volume-ratio", "compressed to this part of its volume", None, "0.6", "0.05", "20")
EXPONENT = Option("exponent", "polytropic exponent", None, "1.3", "1", "1.7", "1.3")
DEAD = Option(
    "dead-volume", "dead volume of the fill tool", Dimension.VOLUME, "3 mL", "0 mL", "1 L"
)
OIL_LEFT_OUT = (
    "The oil's expansion is not in it: in a damper, warmer oil leaves the gas less room. "
    "With a --specification, calc gas --to counts it."
)
SPAN = "virial equation fitted to Span et al. (2000)"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare the options of this sheet."""
    for option in (CHARGE, AT, TO, VOLUME, RATIO, EXPONENT, DEAD):
        option.add_to(parser)
    parser.add_argument(
        "--specification", help="specification file, TOML: its oil's expansion is counted"
    )
    OIL.add_to(parser)
    add_ambient(parser)


def work_out(given: Given, system: UnitSystem) -> Sheet:
    """Return the gauge pressure of a closed nitrogen volume moved to another temperature."""
    sheet = Sheet(system)
    gauge, from_k = given.need(CHARGE), given.need(AT)
    to_k = given.maybe(TO)
    ambient = ambient_pa(given, sheet)
    sheet.put("p1_gauge", "Gauge pressure", gauge, Dimension.PRESSURE, decimals=3)
    sheet.put("T1", "Temperature", from_k, Dimension.TEMPERATURE)
    p1 = sheet.put(
        "p1", "Pressure, absolute", gauge + ambient, Dimension.PRESSURE, decimals=4,
        working="p1_gauge + p_amb",
    )  # fmt: skip
    b, c = nitrogen.second_virial_m3_kg(from_k), nitrogen.third_virial_m6_kg2(from_k)
    rho = sheet.put(
        "rho", "Nitrogen density", nitrogen.density_kg_m3(p1, from_k), Dimension.DENSITY,
        decimals=6, working="p1 / (R T1 (1 + B rho + C rho^2)), by iteration",
        figures=f"{p1:.1f} / ({nitrogen.R_N2:.3f} × {from_k:.2f} (1 + {scientific(b, 6)} rho "
        f"+ {scientific(c, 6)} rho^2)) kg/m3",
        source=SPAN,
    )  # fmt: skip
    unit = _unit(given, rho, from_k)
    if unit is not None and to_k is not None:
        _moved_with_oil(sheet, unit, from_k, to_k, ambient)
    elif to_k is not None:
        _moved(sheet, rho, to_k, ambient)
        sheet.note(OIL_LEFT_OUT)
    volume = given.maybe(VOLUME)
    if volume is not None:
        sheet.put("V1", "Gas volume", volume, Dimension.VOLUME, decimals=2)
        sheet.put("m", "Nitrogen in it", rho * volume, Dimension.MASS, decimals=3, working="rho V1")
    if given.has(RATIO):
        _compressed(sheet, given, p1, from_k, ambient)
    dead = given.maybe(DEAD)
    if dead is not None:
        _joined(sheet, given.need(VOLUME), dead, p1, from_k, ambient)
    return sheet


def _unit(given: Given, rho: float, at_k: float) -> ChargedDamper | None:
    """Return the specified unit with gas of this density in it at ``at_k``, if there is one."""
    if given.text("specification") is None:
        if given.has(OIL):
            raise UnitError("needs --specification.", where=f"--{OIL.name}", advice="Give both.")
        return None
    from benchstation.cli.calc.unit import read_specification

    specification = read_specification(given.text("specification"))
    volume = given.maybe(OIL)
    oil = Oil(specification.oil.typical_rho15)
    empty = ChargedDamper(
        specification.geometry.model(),
        specification.oil.volume if volume is None else volume,
        0.0,
        0.0,
        specification.oil.reference_temperature,
        oil,
    )
    return replace(empty, amount_kg=rho * empty.gas_volume_m3(at_k))


def _moved_with_oil(
    sheet: Sheet, unit: ChargedDamper, from_k: float, to_k: float, ambient: float
) -> None:
    sheet.put("V_oil", "Oil at the reference temperature", unit.oil_volume_m3, Dimension.VOLUME)
    sheet.put("V_T1", "Gas volume, rod fully out", unit.gas_volume_m3(from_k), Dimension.VOLUME)
    sheet.put("T2", "The other temperature", to_k, Dimension.TEMPERATURE)
    sheet.put(
        "V_T2", "Gas volume at the other temperature", unit.gas_volume_m3(to_k), Dimension.VOLUME,
        working="V_free - V_oil (1 + a (T2 - T_ref))", source="ASTM D1250-04 / ISO 91",
    )  # fmt: skip
    p2 = sheet.put(
        "p2", "Pressure at the other temperature, absolute", unit.pressure_pa(to_k),
        Dimension.PRESSURE, decimals=4, working="p(rho V_T1/V_T2, T2)", source=SPAN,
    )  # fmt: skip
    sheet.put(
        "p2_gauge", "Gauge must show", p2 - ambient, Dimension.PRESSURE, decimals=3,
        working="p2 - p_amb",
    )  # fmt: skip


def _moved(sheet: Sheet, rho: float, to_k: float, ambient: float) -> None:
    sheet.put("T2", "The other temperature", to_k, Dimension.TEMPERATURE)
    b, c = nitrogen.second_virial_m3_kg(to_k), nitrogen.third_virial_m6_kg2(to_k)
    p2 = sheet.put(
        "p2", "Pressure at the other temperature, absolute", nitrogen.pressure_pa(rho, to_k),
        Dimension.PRESSURE, decimals=4, working="rho R T2 (1 + B(T2) rho + C(T2) rho^2)",
        figures=f"{rho:.5f} × {nitrogen.R_N2:.3f} × {to_k:.2f} (1 + {scientific(b, 6)} × {rho:.5f} "
        f"+ {scientific(c, 6)} × {rho:.5f}^2) Pa",
        source=SPAN,
    )  # fmt: skip
    sheet.put(
        "p2_gauge", "Gauge must show", p2 - ambient, Dimension.PRESSURE, decimals=3,
        working="p2 - p_amb",
    )  # fmt: skip


def _compressed(sheet: Sheet, given: Given, p1: float, from_k: float, ambient: float) -> None:
    ratio, exponent = given.need(RATIO), given.need(EXPONENT)
    sheet.heading("Compressed")
    sheet.put("r", "Volume ratio V2/V1", ratio, None, decimals=4)
    sheet.put(
        "p_slow", "Slow, isothermal, gauge",
        compression.isothermal_pressure_pa(p1, from_k, ratio) - ambient, Dimension.PRESSURE,
        decimals=3, working="p(rho/r, T1) - p_amb", source=SPAN,
    )  # fmt: skip
    fast, hot = compression.isentropic_end(p1, from_k, ratio)
    sheet.put(
        "p_fast", "Fast, adiabatic, gauge", fast - ambient, Dimension.PRESSURE, decimals=3,
        working="p(rho/r, T_fast) - p_amb, with s(rho/r, T_fast) = s(rho, T1)",
        source=f"{SPAN}; one vibration of the molecule",
    )  # fmt: skip
    sheet.put("T_fast", "Temperature after the fast one", hot, Dimension.TEMPERATURE)
    sheet.put(
        "gamma", "Heat capacity ratio at the start", compression.heat_capacity_ratio(p1, from_k),
        None, decimals=4, working="1 + T (dp/dT)^2 / (rho^2 c_v (dp/drho)_T)", source=SPAN,
    )  # fmt: skip
    sheet.put("n", "Polytropic exponent", exponent, None, decimals=3)
    sheet.put(
        "p_poly", "Polytropic, gauge",
        compression.polytropic_pressure_pa(p1, exponent, ratio) - ambient, Dimension.PRESSURE,
        decimals=3, working="p1 r^-n - p_amb", source="definition of a polytropic change",
    )  # fmt: skip


def _joined(
    sheet: Sheet, volume: float, dead: float, p1: float, from_k: float, ambient: float
) -> None:
    sheet.heading("Fill tool")
    sheet.put("V_dead", "Dead volume of the tool", dead, Dimension.VOLUME, decimals=2)
    sheet.put(
        "m_vent", "Vented when the tool comes off", vented_kg(p1, dead, from_k, ambient),
        Dimension.MASS, decimals=3, working="V_dead (rho - rho(p_amb))",
        source="conservation of mass",
    )  # fmt: skip
    after = pressure_after_joining_pa(p1, volume, dead, from_k, ambient) - ambient
    sheet.put(
        "p_check", "Shown when an empty tool is put on, gauge", after, Dimension.PRESSURE,
        decimals=3, working="p((rho V1 + rho(p_amb) V_dead) / (V1 + V_dead), T1) - p_amb",
        source="conservation of mass",
    )  # fmt: skip
    sheet.put(
        "dp_check", "Lost by each check", p1 - ambient - after, Dimension.PRESSURE, decimals=3,
        working="p1_gauge - p_check",
    )  # fmt: skip
