"""The oil in a unit, in place of the specified: an option that waits for no specification."""

from benchstation.cli.calc.given import Option
from benchstation.quantities.units import Dimension

OIL = Option("oil", "oil in the unit, in place of the specified", Dimension.VOLUME, "266 mL",
             "0.1 mL", "20 L")  # fmt: skip
