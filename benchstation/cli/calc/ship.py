"""``calc ship``: figures of a charged unit for whoever classifies it for transport."""

import argparse

from benchstation.cli.calc.given import Given, Option
from benchstation.cli.calc.sheet import Sheet
from benchstation.cli.calc.unit import add_unit, refused, unit_of
from benchstation.physics.errors import RangeError
from benchstation.physics.shipping import NOTE, Asked, shipping_figures
from benchstation.quantities.units import Dimension, UnitSystem, shown

TEST = Option("test-pressure", "test pressure of the body, gauge", Dimension.PRESSURE, "120 bar",
              "1 bar", "5000 bar")  # fmt: skip
BURST = Option("burst-pressure", "burst pressure of the body, gauge", Dimension.PRESSURE,
               "240 bar", "1 bar", "5000 bar")  # fmt: skip


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare the options of this sheet."""
    add_unit(parser)
    TEST.add_to(parser)
    BURST.add_to(parser)


def work_out(given: Given, system: UnitSystem) -> Sheet:
    """Return charge, gas volume and ratios beside what the rules say about them."""
    sheet = Sheet(system)
    unit = unit_of(given)
    try:
        charged = unit.build.unit()
    except RangeError as error:
        raise refused(unit.build, error, system) from error
    found = shipping_figures(
        charged, test_gauge_pa=given.maybe(TEST), burst_gauge_pa=given.maybe(BURST)
    )
    sheet.put(
        "p_70F", "Charge at 70 °F (21.1 °C), gauge", found.charge_70f_gauge_pa,
        Dimension.PRESSURE, working="p(m/V_gas(T), T) - 1.01325 bar, T = 294.26 K",
        source="nitrogen fitted to Span et al. (2000)",
    )  # fmt: skip
    sheet.put("p_20C", "Charge at 20 °C, gauge", found.charge_20c_gauge_pa, Dimension.PRESSURE)
    sheet.put(
        "V_gas", "Gas volume, rod fully out", found.gas_volume_m3, Dimension.VOLUME,
        working="V_free - V_oil (1 + a (T - T_ref))",
    )  # fmt: skip
    sheet.put("m", "Nitrogen", found.amount_kg, Dimension.MASS, decimals=2)
    sheet.heading("What the rules ask about")
    for number, asked in enumerate(found.asked, 1):
        _asked(sheet, number, asked)
    sheet.note(NOTE)
    return sheet


def _asked(sheet: Sheet, number: int, asked: Asked) -> None:
    def text(value: float) -> str:
        if "times charge" in asked.what:
            return f"{value / 100.0:.2f} bar L"
        if "to charge" in asked.what:
            return f"{value:.2f}"
        if "space" in asked.what:
            return f"{value * 1e3:.4g} L"
        return str(shown(value, Dimension.PRESSURE, sheet.system))

    word = "at most" if asked.at_most else "at least"
    sheet.say(
        f"r{number}", asked.what[0].upper() + asked.what[1:], asked.found,
        f"{text(asked.found)}; {word} {text(asked.asked)}", source=asked.rule,
    )  # fmt: skip
