"""The barometer, given or from altitude: options that several sheets share."""

import argparse

from benchstation.cli.calc.given import Given, Option
from benchstation.cli.calc.sheet import Sheet
from benchstation.physics.air import STANDARD_PRESSURE_PA, pressure_at_altitude_pa
from benchstation.quantities.units import Dimension

BAROMETER = Option(
    "barometer", "ambient pressure, absolute", Dimension.PRESSURE, "1013 hPa", "500 hPa", "1100 hPa"
)
ALTITUDE = Option(
    "altitude", "altitude, in place of the barometer", Dimension.LENGTH, "500 m", "-1000 m",
    "5500 m",
)  # fmt: skip


def add_ambient(parser: argparse.ArgumentParser) -> None:
    """Declare barometer and altitude; one of them may be given."""
    group = parser.add_mutually_exclusive_group()
    BAROMETER.add_to(group)
    ALTITUDE.add_to(group)


def ambient_pa(given: Given, sheet: Sheet) -> float:
    """Put the ambient pressure on the sheet and give it."""
    altitude = given.maybe(ALTITUDE)
    if altitude is not None:
        return sheet.put(
            "p_amb",
            "Ambient pressure, absolute",
            pressure_at_altitude_pa(altitude),
            Dimension.PRESSURE,
            decimals=4,
            working="p0 (1 - 0.0065 H / 288.15)^5.2559",
            figures=f"1.01325 bar (1 - 0.0065 × {altitude:.6g} / 288.15)^5.2559",
            source="ISO 2533, standard atmosphere",
        )
    barometer = given.maybe(BAROMETER)
    return sheet.put(
        "p_amb",
        "Ambient pressure, absolute",
        STANDARD_PRESSURE_PA if barometer is None else barometer,
        Dimension.PRESSURE,
        decimals=4,
        source="standard atmosphere, ISO 2533" if barometer is None else "",
    )
