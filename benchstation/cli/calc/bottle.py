"""``calc bottle``: how many fills a nitrogen bottle still gives at this charge."""

import argparse

from benchstation.cli.calc.given import Given, Option
from benchstation.cli.calc.sheet import Sheet
from benchstation.cli.calc.surroundings import add_ambient, ambient_pa
from benchstation.physics.bottle import Bottle, bottle_forecast
from benchstation.physics.bottle_gas import bottle_density_kg_m3
from benchstation.quantities.units import Dimension, UnitSystem

BOTTLE = Option("bottle", "water capacity of the bottle", Dimension.VOLUME, "10 L", "0.1 L",
                "100 L")  # fmt: skip
GAUGE = Option("gauge", "what its gauge shows", Dimension.PRESSURE, "150 bar", "0 bar", "305 bar")
AT = Option("at", "its temperature", Dimension.TEMPERATURE, "20 degC", "-20 degC", "65 degC",
            "20 degC")  # fmt: skip
CHARGE = Option("charge", "charge of a unit, gauge", Dimension.PRESSURE, "15 bar", "0.1 bar",
                "59 bar")  # fmt: skip
VOLUME = Option("gas-volume", "gas volume of a unit", Dimension.VOLUME, "90 mL", "1 mL", "10 L")
DEAD = Option("dead-volume", "dead volume of the fill tool, vented each time", Dimension.VOLUME,
              "3 mL", "0 mL", "1 L", "0 mL")  # fmt: skip
REGULATOR = Option("regulator-drop", "what the regulator needs above the charge",
                   Dimension.PRESSURE, "2 bar", "0 bar", "100 bar", "0 bar")  # fmt: skip
MASS = "conservation of mass; nitrogen fitted to Span et al. (2000)"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare the options of this sheet."""
    for option in (BOTTLE, GAUGE, AT, CHARGE, VOLUME, DEAD, REGULATOR):
        option.add_to(parser)
    add_ambient(parser)


def work_out(given: Given, system: UnitSystem) -> Sheet:
    """Return the fills left and where the bottle stands when the last one is done."""
    sheet = Sheet(system)
    litres, gauge = given.need(BOTTLE), given.need(GAUGE)
    charge, volume, dead = given.need(CHARGE), given.need(VOLUME), given.need(DEAD)
    at_k, drop = given.need(AT), given.need(REGULATOR)
    pressure, size = Dimension.PRESSURE, Dimension.VOLUME
    sheet.say("V_b", "Water capacity of the bottle", litres, f"{litres * 1e3:g} L")
    sheet.put("p_b", "Bottle gauge", gauge, pressure, decimals=1)
    sheet.put("T", "Temperature", at_k, Dimension.TEMPERATURE)
    ambient = ambient_pa(given, sheet)
    bottle = Bottle(litres, gauge, at_k, ambient)
    forecast = bottle_forecast(bottle, charge, volume, dead_volume_m3=dead, regulator_drop_pa=drop)
    density = sheet.put(
        "rho_b", "Nitrogen density in the bottle", bottle_density_kg_m3(gauge + ambient, at_k),
        Dimension.DENSITY, decimals=5, working="rho(p_b + p_amb, T)",
        source="virial equation to the fifth term, fitted to Span et al. (2000)",
    )  # fmt: skip
    have = sheet.put(
        "m_b", "Nitrogen in the bottle", density * litres, Dimension.MASS, decimals=1,
        working="rho_b V_b",
    )  # fmt: skip
    sheet.put("p_c", "Charge, gauge", charge, pressure)
    sheet.put("dp_r", "Regulator needs above it", drop, pressure)
    sheet.put("V_gas", "Gas volume of a unit", volume, size)
    sheet.put("V_dead", "Dead volume of the fill tool", dead, size)
    drawn = sheet.put(
        "m_fill", "A fill draws", forecast.drawn_per_fill_kg, Dimension.MASS, decimals=3,
        working="(V_gas + V_dead) (rho(p_c + p_amb) - rho(p_amb))", source=MASS,
    )  # fmt: skip
    kept = sheet.put(
        "m_keep", "The bottle must keep", bottle_density_kg_m3(charge + drop + ambient, at_k)
        * litres, Dimension.MASS, decimals=1, working="V_b rho(p_c + dp_r + p_amb, T)", source=MASS,
    )  # fmt: skip
    sheet.put(
        "k", "Fills left that reach the charge", forecast.fills_left, None, decimals=0,
        working="whole part of (m_b - m_keep) / m_fill",
        figures=f"whole part of ({have * 1e3:.1f} g - {kept * 1e3:.1f} g) / {drawn * 1e3:.3f} g",
        source=MASS,
    )  # fmt: skip
    sheet.put(
        "dp_fill", "Bottle drops by each fill now", forecast.drop_per_fill_pa, pressure, decimals=3
    )
    sheet.put(
        "p_last", "Bottle before the last fill that reaches it", forecast.last_fill_from_pa,
        pressure, decimals=2, working="p of m_b - (k - 1) m_fill",
    )  # fmt: skip
    sheet.put(
        "p_end", "Bottle after it", forecast.after_last_pa, pressure, decimals=2,
        working="p of m_b - k m_fill",
    )  # fmt: skip
    sheet.put(
        "p_change", "Change the bottle below", forecast.change_below_pa, pressure, decimals=2,
        working="p of m_keep + m_fill",
    )  # fmt: skip
    return sheet
