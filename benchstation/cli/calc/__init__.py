"""The station's figures on the command line: any units in and out, with the working on request."""

import argparse
from collections.abc import Callable, Mapping

from benchstation.cli.calc import bottle, damper, gas, leak, oil, ship
from benchstation.cli.calc.given import Given, in_words, joined
from benchstation.cli.calc.sheet import Line, Sheet
from benchstation.driver_api.errors import StationError
from benchstation.physics.errors import RangeError
from benchstation.quantities.units import UnitSystem

__all__ = ["SHEETS", "Line", "Sheet", "add_commands", "compute", "joined"]

SHEETS: dict[str, Callable[[Given, UnitSystem], Sheet]] = {
    "oil": oil.oil_sheet,
    "gas": gas.gas_sheet,
    "damper": damper.damper_sheet,
    "leak": leak.leak_sheet,
    "bottle": bottle.bottle_sheet,
    "ship": ship.ship_sheet,
}
_OPTIONS: dict[str, tuple[str, Callable[[argparse.ArgumentParser], None]]] = {
    "oil": ("what the scale must show for a volume of oil", oil.add_options),
    "gas": ("a nitrogen charge at another temperature or volume", gas.add_options),
    "damper": ("what follows from a specification's fill and charge", damper.add_options),
    "leak": ("a leak rate and the hold that proves it", leak.add_options),
    "bottle": ("fills left in a nitrogen bottle", bottle.add_options),
    "ship": ("figures for the transport of a charged unit", ship.add_options),
}


def add_commands(parser: argparse.ArgumentParser) -> None:
    """Declare every sheet under ``calc``."""
    sheets = parser.add_subparsers(dest="sheet", required=True)
    for name, (words, add_options) in _OPTIONS.items():
        sheet = sheets.add_parser(name, help=words, description=words)
        add_options(sheet)
        sheet.add_argument("--inch-pound", action="store_true", help="show inch-pound units")
        form = sheet.add_mutually_exclusive_group()
        form.add_argument("--json", action="store_true", help="for programs, SI")
        form.add_argument("--explain", action="store_true", help="show formulas and sources")


def compute(sheet: str, given: Mapping[str, str | None], system: UnitSystem) -> Sheet:
    """Return one sheet; every refusal is one line that names it.

    Raises :class:`StationError`.
    """
    try:
        return SHEETS[sheet](Given(given), system)
    except RangeError as error:
        refused = in_words(error, system)
        raise StationError(refused.what, where=f"calc {sheet}", advice=refused.advice) from error
