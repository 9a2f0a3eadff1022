"""The unit that several sheets are about: a specification file, with what is given in its place."""

import argparse
from dataclasses import dataclass
from pathlib import Path

from benchstation.cli.calc.given import Given, Option, in_words
from benchstation.cli.calc.oil_given import OIL
from benchstation.domain.specification import Specification, specification_in
from benchstation.driver_api.errors import StationError
from benchstation.physics.assessment import Build
from benchstation.physics.errors import RangeError
from benchstation.physics.oil import Oil
from benchstation.quantities.units import Dimension, UnitSystem

DEPTH = Option("depth", "floating piston's measured depth, in place of --oil", Dimension.LENGTH,
               "210 mm", "0 mm", "3 m")  # fmt: skip
CHARGE = Option("charge", "charge at the reference temperature, gauge, in place of the specified",
                Dimension.PRESSURE, "15 bar", "0 bar", "59 bar")  # fmt: skip


def add_unit(parser: argparse.ArgumentParser) -> None:
    """Declare the specification and what may replace its oil and charge."""
    parser.add_argument("--specification", help="specification file, TOML")
    oil = parser.add_mutually_exclusive_group()
    OIL.add_to(oil)
    DEPTH.add_to(oil)
    CHARGE.add_to(parser)


@dataclass(frozen=True, slots=True)
class Unit:
    """A specification, and the build that is asked about."""

    specification: Specification
    oil: Oil
    build: Build


def unit_of(given: Given) -> Unit:
    """Read the specification and put in its place what was given."""
    specification = read_specification(given.text("specification"))
    oil = Oil(specification.oil.typical_rho15)
    reference_k = specification.oil.reference_temperature
    geometry = specification.geometry.model()
    volume, depth, charge = given.maybe(OIL), given.maybe(DEPTH), given.maybe(CHARGE)
    if depth is not None:
        volume = geometry.oil_volume_m3(geometry.gas_volume_at_depth_m3(depth))
    return Unit(
        specification,
        oil,
        Build(
            geometry,
            specification.limits_model(),
            specification.oil.volume if volume is None else volume,
            specification.gas.gauge_pressure if charge is None else charge,
            oil.mean_expansion_per_k(reference_k, specification.limits.hot),
            reference_k,
            oil=oil,
        ),
    )


def read_specification(path: str | None) -> Specification:
    """Read a specification file; raises :class:`StationError` in words."""
    if path is None:
        raise StationError("is missing.", where="--specification", advice="Give a TOML file.")
    return specification_in(Path(path))


def refused(build: Build, error: RangeError, system: UnitSystem, given: Given) -> StationError:
    """Word why this oil and charge cannot be computed, with the oil that can be."""
    words = in_words(error, system, given)
    window = build.fill_window()

    def volume(value: float) -> str:
        return given.shown(value, Dimension.VOLUME, system)

    charge = given.shown(build.charge_gauge_pa, Dimension.PRESSURE, system)
    allowed = f"{volume(window.least_m3)} to {volume(window.most_m3)}"
    if window.is_empty:
        allowed = "none: no fill keeps every limit at this charge"
    return StationError(
        f"with {volume(build.oil_volume_m3)} at {charge} gauge {words.what}",
        where="oil and charge",
        advice=f"Allowed at this charge is {allowed}.",
    )
