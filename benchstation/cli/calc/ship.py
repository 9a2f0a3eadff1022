"""``calc ship``: figures of a charged unit for whoever classifies it for transport."""

import argparse
import math

from benchstation.cli.calc.given import Given, Option
from benchstation.cli.calc.sheet import Sheet
from benchstation.cli.calc.unit import add_unit, refused, unit_of
from benchstation.physics.errors import RangeError
from benchstation.physics.shipping import (
    NOTE,
    UN_ENTRY,
    Clause,
    Condition,
    Quantity,
    Standing,
    shipping_figures,
)
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
    sheet.say(clause.id, "Standing", math.nan, _standing(sheet, clause))
    for number, condition in enumerate(clause.conditions, 1):
        found = math.nan if condition.found is None else condition.found
        sheet.say(
            f"{clause.id}_{number}", _capital(condition.what), found, _text(sheet, condition),
            source=clause.rule,
        )  # fmt: skip
    for number, words in enumerate(clause.to_show, len(clause.conditions) + 1):
        sheet.say(f"{clause.id}_{number}", "For the shipper to show", math.nan, words)


def _standing(sheet: Sheet, clause: Clause) -> str:
    if clause.standing is Standing.RULED_OUT:
        reasons = (f"{c.what}: {_text(sheet, c)}" for c in clause.against)
        return f"{clause.standing}; {'; '.join(reasons)}"
    if clause.standing is Standing.NOT_TOLD:
        missing = dict.fromkeys(c.what.partition(",")[0] for c in clause.missing)
        return f"{clause.standing}, not given: {' and '.join(missing)}"
    shown_first = ", once the conditions below are shown" if clause.to_show else ""
    return f"{clause.standing} by these figures{shown_first}: {clause.consequence}"


def _text(sheet: Sheet, condition: Condition) -> str:
    def text(value: float) -> str:
        if condition.quantity is Quantity.ENERGY:
            return f"{value / 100.0:.2f} bar L"
        if condition.quantity is Quantity.VOLUME:
            return f"{value * 1e3:.4g} L"
        return str(shown(value, Dimension.PRESSURE, sheet.system))

    found = "not given" if condition.found is None else text(condition.found)
    limits = (("at least", condition.least), ("at most", condition.most))
    asked = " and ".join(f"{word} {text(limit)}" for word, limit in limits if limit is not None)
    return f"{found}; {asked}"


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]
