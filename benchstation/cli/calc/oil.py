"""``calc oil``: what the scale must show for a volume of oil, or what volume it shows."""

import argparse

from benchstation.cli.calc.given import Given, Option
from benchstation.cli.calc.sheet import Sheet
from benchstation.cli.calc.surroundings import add_ambient, ambient_pa
from benchstation.driver_api.errors import StationError
from benchstation.physics.air import air_density_kg_m3, buoyancy_factor
from benchstation.physics.graduated import as_poured_difference_kg, cylinder_reading_m3
from benchstation.physics.oil_lot import (
    DensityRoute,
    OilLot,
    hydrometer_lot,
    own_expansion_lot,
    two_density_lot,
)
from benchstation.quantities.notation import scientific
from benchstation.quantities.units import Dimension, UnitSystem

_T = Dimension.TEMPERATURE
VOLUME = Option("volume", "specified volume", Dimension.VOLUME, "262 mL", "0.1 mL", "20 L")
SHOWN = Option(
    "shown", "what the scale shows, in place of --volume", Dimension.MASS, "222 g", "0.1 g", "20 kg"
)
DENSITY = Option(
    "density", "density of the lot", Dimension.DENSITY, "0.851 g/mL", "0.65 g/mL", "1.25 g/mL"
)
DENSITY_AT = Option(
    "density-at", "temperature of that density", _T, "15 degC", "-50 degC", "150 degC", "15 degC"
)
SECOND = Option(
    "second-density", "a second measured density", Dimension.DENSITY, "0.826 g/mL", "0.65 g/mL",
    "1.25 g/mL",
)  # fmt: skip
SECOND_AT = Option(
    "second-density-at", "its temperature, 5 K or more away", _T, "50 degC", "-50 degC", "150 degC"
)
EXPANSION = Option(
    "expansion", "the lot's own expansion at 15 degC", Dimension.EXPANSION, "7.4e-4 1/K",
    "3e-4 1/K", "1.5e-3 1/K",
)  # fmt: skip
U_DENSITY = Option(
    "density-uncertainty", "standard uncertainty of each density", Dimension.DENSITY,
    "0.5 kg/m3", "0 kg/m3", "50 kg/m3", "0.5 kg/m3",
)  # fmt: skip
U_TEMPERATURE = Option(
    "density-at-uncertainty", "standard uncertainty of its temperature",
    Dimension.TEMPERATURE_DIFFERENCE, "0.2 K", "0 K", "10 K", "0 K",
)  # fmt: skip
REFERENCE = Option(
    "reference", "reference temperature of the volume", _T, "20 degC", "-20 degC", "80 degC",
    "20 degC",
)  # fmt: skip
BENCH = Option("bench", "air temperature", _T, "20 degC", "0 degC", "50 degC", "20 degC")
HUMIDITY = Option("humidity", "relative humidity in percent", None, "50", "0", "100", "50")
_OPTIONS = (
    VOLUME, SHOWN, DENSITY, DENSITY_AT, SECOND, SECOND_AT, EXPANSION, U_DENSITY, U_TEMPERATURE,
    REFERENCE, BENCH, HUMIDITY,
)  # fmt: skip
_STANDARD = "ASTM D1250-04 / API MPMS 11.1 / ISO 91, lubricating oils"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare the options of this sheet."""
    for option in _OPTIONS:
        option.add_to(parser)
    add_ambient(parser)


def lot_of(given: Given) -> OilLot:
    """Return the lot by the route that the options describe."""
    density, at_k = given.need(DENSITY), given.need(DENSITY_AT)
    u, u_k = given.need(U_DENSITY), given.need(U_TEMPERATURE)
    if given.has(SECOND):
        return two_density_lot(
            density, at_k, given.need(SECOND), given.need(SECOND_AT),
            u_density_kg_m3=u, u_temperature_k=u_k,
        )  # fmt: skip
    if given.has(EXPANSION):
        if at_k != 288.15:
            raise StationError(
                "a lot's own expansion goes with its density at 15 °C.",
                where=f"--{EXPANSION.name}",
                advice=f"Leave --{DENSITY_AT.name} out, or give a second density instead.",
            )
        return own_expansion_lot(density, u, given.need(EXPANSION), 0.0)
    return hydrometer_lot(density, at_k, u, u_k)


def work_out(given: Given, system: UnitSystem) -> Sheet:
    """Return what a scale must show for a volume at its reference temperature, or the reverse."""
    sheet = Sheet(system)
    shown = given.maybe(SHOWN)
    volume = given.need(VOLUME) if shown is None else None
    lot = lot_of(given)
    reference_k, bench_k = given.need(REFERENCE), given.need(BENCH)
    if volume is not None:
        sheet.put("V", "Volume at the reference temperature", volume, Dimension.VOLUME, decimals=2)
    rho, rho_bench = _densities(sheet, lot, given, reference_k, bench_k)
    ambient = ambient_pa(given, sheet)
    humidity = given.need(HUMIDITY)
    air = sheet.put(
        "rho_air", "Air density", air_density_kg_m3(bench_k, ambient, humidity / 100.0),
        Dimension.DENSITY, decimals=7,
        working="(0.34848 p - 0.009 h exp(0.061 t)) / (273.15 + t), p in hPa, h in %, t in °C",
        figures=f"(0.34848 × {ambient / 100:.2f} - 0.009 × {humidity:g} × exp(0.061 × "
        f"{bench_k - 273.15:.2f})) / {bench_k:.2f} kg/m3",
        source="OIML R 111-1, E.3",
    )  # fmt: skip
    factor = sheet.put(
        "W/m", "Air buoyancy factor", buoyancy_factor(rho_bench, air), None,
        working="(1 - rho_air/rho_bench) / (1 - rho_air/8000)",
        figures=f"(1 - {air:.4f}/{rho_bench:.2f}) / (1 - {air:.4f}/8000)", source="OIML D 28",
    )  # fmt: skip
    if volume is None:
        assert shown is not None
        sheet.put("W", "Scale shows", shown, Dimension.MASS, decimals=2)
        mass = sheet.put(
            "m", "Mass", shown / factor, Dimension.MASS, decimals=2, working="W / (W/m)",
            source="OIML D 28",
        )  # fmt: skip
        volume = sheet.put(
            "V", "Volume at the reference temperature", mass / rho, Dimension.VOLUME, decimals=2,
            working="m / rho",
        )  # fmt: skip
    else:
        mass = sheet.put(
            "m", "Mass", volume * rho, Dimension.MASS, decimals=2, working="V rho",
            source="the specified volume is at its reference temperature (ISO 4787)",
        )  # fmt: skip
        sheet.put(
            "W", "Scale must show", mass * factor, Dimension.MASS, decimals=2, working="m (W/m)"
        )
    sheet.put(
        "u_m", "Standard uncertainty of the mass, from the density", mass * lot.u_rel(reference_k),
        Dimension.MASS, decimals=3, working="m u_rho / rho", source="GUM, JCGM 100",
    )  # fmt: skip
    _by_eye(sheet, lot, volume, mass, reference_k, bench_k)
    return sheet


def _densities(
    sheet: Sheet, lot: OilLot, given: Given, reference_k: float, bench_k: float
) -> tuple[float, float]:
    own = lot.route in (DensityRoute.OWN_EXPANSION, DensityRoute.TWO_DENSITIES)
    sheet.put("rho_obs", "Density as measured", given.need(DENSITY), Dimension.DENSITY, decimals=5)
    sheet.put(
        "rho15", "Density at 15 °C", lot.oil.rho15_kg_m3, Dimension.DENSITY, decimals=5,
        working="rho_obs brought to 15 °C by iteration", source=_STANDARD,
    )  # fmt: skip
    alpha = sheet.put(
        "a", "Expansion coefficient at 15 °C", lot.oil.alpha15_per_k, Dimension.EXPANSION,
        working=_ALPHA_WORKING[lot.route],
        figures="" if own else f"0.6278 / {lot.oil.rho15_kg_m3:.2f} 1/K",
        source="the lot's own" if own else _STANDARD,
    )  # fmt: skip
    rho = 0.0
    for symbol, name, kelvin in (
        ("rho", "Density at the reference temperature", reference_k),
        ("rho_bench", "Density at the bench", bench_k),
    ):
        d = kelvin - 288.15
        found = sheet.put(
            symbol, name, lot.density(kelvin), Dimension.DENSITY, decimals=5,
            working="rho15 exp(-a d (1 + 0.8 a d)), d = T - 15 °C",
            figures=f"{lot.oil.rho15_kg_m3:.2f} exp(-{scientific(alpha, 5)} × {d:.2f} (1 + 0.8 × "
            f"{scientific(alpha, 5)} × {d:.2f})) kg/m3",
            source=_STANDARD,
        )  # fmt: skip
        rho = rho or found
    sheet.put(
        "u_rho", "Standard uncertainty of the density", lot.u_density_kg_m3(reference_k),
        Dimension.DENSITY, decimals=5, source=f"GUM, JCGM 100; route: {lot.route.value}",
    )  # fmt: skip
    return rho, lot.density(bench_k)


_ALPHA_WORKING = {
    DensityRoute.CERTIFICATE: "K1 / rho15, K1 = 0.6278 kg/m3/K",
    DensityRoute.HYDROMETER: "K1 / rho15, K1 = 0.6278 kg/m3/K",
    DensityRoute.OWN_EXPANSION: "",
    DensityRoute.TWO_DENSITIES: "2 q / (1 + sqrt(1 + 3.2 q (d1 + d2))), "
    "q = ln(rho1/rho2) / (d2 - d1)",
}


def _by_eye(
    sheet: Sheet, lot: OilLot, volume: float, mass: float, reference_k: float, bench_k: float
) -> None:
    rho = lot.density(bench_k)
    sheet.put(
        "V_jug", "A graduated cylinder would read now", cylinder_reading_m3(mass, rho, bench_k),
        Dimension.VOLUME, decimals=2,
        working="m / rho_bench / (1 + 9.9e-6 (T - 20 °C))",
        source="ISO 4787; glass 3.3, ISO 3585",
    )  # fmt: skip
    difference = as_poured_difference_kg(volume, lot.oil, reference_k, bench_k)
    sheet.put(
        "dm_eye", "Off by, if eyed at this volume now", difference, Dimension.MASS, decimals=2,
        working="V (rho_bench - rho)",
    )  # fmt: skip
    if abs(difference) > 1e-3 * mass:
        word = "missing" if difference < 0 else "too much"
        grams = sheet.lines[-1].text.lstrip("-−")
        sheet.note(
            f"Warning: the volume is stated at its reference temperature. Poured by eye at the "
            f"bench's temperature, {grams} would be {word}."
        )
