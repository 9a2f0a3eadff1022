"""``calc ship``: figures of a charged unit for whoever classifies it for transport."""

import argparse
import math

from benchstation.cli.calc.given import Given, Option
from benchstation.cli.calc.sheet import Sheet
from benchstation.cli.calc.unit import add_unit, refused, unit_of
from benchstation.domain.shipping import condition_in_words, standing_in_words
from benchstation.physics.errors import RangeError
from benchstation.physics.shipping import (
    NOTE,
    UN_ENTRY,
    Clause,
    shipping_figures,
)
from benchstation.quantities.units import Dimension, UnitSystem

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
    """Return charge and gas volume, each clause with its conditions, and what is left without."""
    sheet = Sheet(system)
    unit = unit_of(given)
    try:
        found = shipping_figures(
            unit.build.unit(), test_gauge_pa=given.maybe(TEST), burst_gauge_pa=given.maybe(BURST)
        )
    except RangeError as error:
        raise refused(unit.build, error, system, given) from error
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
    for clause in found.clauses:
        _clause(sheet, clause)
    sheet.heading("Where no clause above applies")
    sheet.say("un", "Entry", math.nan, UN_ENTRY, source="PHMSA letter 13-0178")
    sheet.note(NOTE)
    return sheet


def _clause(sheet: Sheet, clause: Clause) -> None:
    sheet.heading(f"{clause.rule}: {clause.scope}")
    sheet.say(clause.id, "Standing", math.nan, standing_in_words(clause, sheet.system))
    for number, condition in enumerate(clause.conditions, 1):
        found = math.nan if condition.found is None else condition.found
        said = condition_in_words(condition, sheet.system)
        sheet.say(
            f"{clause.id}_{number}", _capital(condition.what), found, said, source=clause.rule
        )
    for number, words in enumerate(clause.to_show, len(clause.conditions) + 1):
        sheet.say(f"{clause.id}_{number}", "For the shipper to show", math.nan, words)


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]
