"""The station's figures on the command line: any units in and out, with the working on request."""

import argparse
from collections.abc import Collection, Mapping
from importlib import import_module
from types import ModuleType

from benchstation.cli.calc.given import Given, in_words, joined, options_of
from benchstation.cli.calc.sheet import Line, Sheet
from benchstation.driver_api.errors import StationError
from benchstation.physics.errors import RangeError
from benchstation.quantities.units import UnitSystem

__all__ = ["SHEETS", "Line", "Sheet", "add_commands", "compute", "joined"]

SHEETS = {
    "oil": "what the scale must show for a volume of oil",
    "gas": "a nitrogen charge at another temperature or volume",
    "damper": "what follows from a specification's fill and charge",
    "leak": "a leak rate and the hold that proves it",
    "bottle": "fills left in a nitrogen bottle",
    "ship": "figures for the transport of a charged unit",
}
"""Each sheet and what it is for; the module of its name has ``add_options`` and ``work_out``."""


def _module(sheet: str) -> ModuleType:
    return import_module(f"benchstation.cli.calc.{sheet}")


def _declare(parser: argparse.ArgumentParser, sheet: str) -> None:
    _module(sheet).add_options(parser)
    parser.add_argument("--inch-pound", action="store_true", help="show inch-pound units")
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="for programs, SI")
    form.add_argument("--explain", action="store_true", help="show formulas and sources")


def add_commands(parser: argparse.ArgumentParser, named: Collection[str] = tuple(SHEETS)) -> None:
    """Declare every sheet under ``calc``, and the options of those that are ``named``."""
    sheets = parser.add_subparsers(dest="sheet", required=True)
    for name, words in SHEETS.items():
        sheet = sheets.add_parser(name, help=words, description=words)
        if name in named:
            _declare(sheet, name)


def compute(name: str, given: Mapping[str, str | None], system: UnitSystem) -> Sheet:
    """Return one sheet; every refusal is one line that names it.

    Raises :class:`StationError`.
    """
    options = Given(given)
    for option in options_of(_module(name).add_options):
        # One that the sheet does not need this time is read too: a mistake is never passed over.
        if options.has(option):
            options.need(option)
    try:
        sheet: Sheet = _module(name).work_out(options, system)
    except RangeError as error:
        refused = in_words(error, system, options)
        raise StationError(refused.what, where=f"calc {name}", advice=refused.advice) from error
    return sheet
