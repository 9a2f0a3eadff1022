"""The station's figures on the command line: any units in and out, with the working on request."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field

from benchstation.driver_api.errors import StationError
from benchstation.physics import nitrogen
from benchstation.physics.air import (
    STANDARD_PRESSURE_PA,
    air_density_kg_m3,
    buoyancy_factor,
    pressure_at_altitude_pa,
)
from benchstation.physics.oil import Oil, density_at_15_kg_m3
from benchstation.units import Dimension, UnitError, UnitSystem, parse, shown


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the working: symbol, what it is, its value in SI, shown text and source."""

    symbol: str
    name: str
    value: float
    text: str
    working: str = ""
    source: str = ""


@dataclass(slots=True)
class Sheet:
    """A computation as lines that a person can follow by hand."""

    system: UnitSystem
    lines: list[Line] = field(default_factory=list)

    def put(
        self,
        symbol: str,
        name: str,
        value: float,
        dimension: Dimension | None,
        *,
        decimals: int | None = None,
        working: str = "",
        source: str = "",
    ) -> float:
        """Add a line and give its value back."""
        if dimension is None:
            text = f"{value:.{6 if decimals is None else decimals}f}"
        else:
            text = str(shown(value, dimension, self.system, decimals=decimals))
        self.lines.append(Line(symbol, name, value, text, working, source))
        return value

    def readable(self, *, explain: bool) -> str:
        """Give the sheet as text; ``explain`` adds formula and source under each line."""
        width = max(len(line.name) for line in self.lines)
        rows = []
        for line in self.lines:
            rows.append(f"{line.name:<{width}}  {line.text}")
            if explain and line.working:
                rows.append(f"    {line.symbol} = {line.working}")
            if explain and line.source:
                rows.append(f"    source: {line.source}")
        return "\n".join(rows)

    def as_json(self) -> str:
        """Give the sheet for programs: every value in SI under its symbol."""
        return json.dumps(
            {
                line.symbol: {"value_si": line.value, "name": line.name, "text": line.text}
                for line in self.lines
            },
            ensure_ascii=False,
            indent=2,
            allow_nan=False,
        )


def quantity(
    given: Mapping[str, str | None], name: str, dimension: Dimension, default_unit: str
) -> float:
    """Take one option; a wrong one names the option, what was given and what is allowed."""
    text = given.get(name)
    if text is None:
        raise UnitError("is missing.", where=f"--{name}", advice=f"Give it like '{default_unit}'.")
    try:
        return parse(text, dimension, default_unit=default_unit.split(" ", 1)[1])
    except StationError as error:
        raise UnitError(error.what, where=f"--{name}", advice=error.advice) from error


def _ambient_pa(given: Mapping[str, str | None], sheet: Sheet) -> float:
    if given.get("altitude") is not None:
        altitude = quantity(given, "altitude", Dimension.LENGTH, "500 m")
        return sheet.put(
            "p_amb",
            "Ambient pressure, absolute",
            pressure_at_altitude_pa(altitude),
            Dimension.PRESSURE,
            decimals=4,
            working="p0 (1 - 0.0065 H / 288.15)^5.2559",
            source="ISO 2533",
        )
    value = STANDARD_PRESSURE_PA
    if given.get("barometer") is not None:
        value = quantity(given, "barometer", Dimension.PRESSURE, "1013 hPa")
    return sheet.put("p_amb", "Ambient pressure, absolute", value, Dimension.PRESSURE, decimals=4)


def oil_sheet(given: Mapping[str, str | None], system: UnitSystem) -> Sheet:
    """Give what a scale must show for a volume of oil at its reference temperature."""
    sheet = Sheet(system)
    volume = quantity(given, "volume", Dimension.VOLUME, "262 mL")
    density = quantity(given, "density", Dimension.DENSITY, "0.851 g/mL")
    observed_k = quantity(
        {**given, "density-at": given.get("density-at") or "15 degC"},
        "density-at", Dimension.TEMPERATURE, "15 degC",
    )  # fmt: skip
    reference_k = quantity(
        {**given, "reference": given.get("reference") or "20 degC"},
        "reference", Dimension.TEMPERATURE, "20 degC",
    )  # fmt: skip
    bench_k = quantity(
        {**given, "bench": given.get("bench") or "20 degC"},
        "bench", Dimension.TEMPERATURE, "20 degC",
    )  # fmt: skip
    sheet.put("V", "Volume at the reference temperature", volume, Dimension.VOLUME, decimals=2)
    rho15 = sheet.put(
        "rho15",
        "Density at 15 °C",
        density_at_15_kg_m3(density, observed_k),
        Dimension.DENSITY,
        decimals=5,
        working="rho(T_obs) corrected to 15 °C by iteration",
        source="ASTM D1250-04 / API MPMS 11.1 / ISO 91, lubricating oils",
    )
    oil = Oil(rho15)
    rho = sheet.put(
        "rho",
        "Density at the reference temperature",
        oil.density(reference_k),
        Dimension.DENSITY,
        decimals=5,
        working="rho15 exp(-a dT (1 + 0.8 a dT)), a = 0.6278/rho15, dT = T - 15 °C",
        source="ASTM D1250-04 / API MPMS 11.1 / ISO 91, lubricating oils",
    )
    mass = sheet.put(
        "m", "Mass", volume * rho, Dimension.MASS, decimals=2, working="V rho",
        source="the specified volume is at its reference temperature (ISO 4787)",
    )  # fmt: skip
    ambient = _ambient_pa(given, sheet)
    air = sheet.put(
        "rho_air", "Air density", air_density_kg_m3(bench_k, ambient, 0.5), Dimension.DENSITY,
        decimals=7, working="(0.34848 p - 0.009 h exp(0.061 t)) / (273.15 + t), h = 50 %",
        source="OIML R 111-1, E.3",
    )  # fmt: skip
    factor = sheet.put(
        "W/m", "Air buoyancy factor", buoyancy_factor(oil.density(bench_k), air), None,
        working="(1 - rho_air/rho_oil) / (1 - rho_air/8000)", source="OIML D 28",
    )  # fmt: skip
    sheet.put("W", "Scale must show", mass * factor, Dimension.MASS, decimals=2, working="m (W/m)")
    sheet.put(
        "V_jug", "A measuring jug would read now", mass / oil.density(bench_k), Dimension.VOLUME,
        decimals=2, working="m / rho(T_bench)",
    )  # fmt: skip
    return sheet


def gas_sheet(given: Mapping[str, str | None], system: UnitSystem) -> Sheet:
    """Give the gauge pressure of a closed nitrogen volume moved to another temperature."""
    sheet = Sheet(system)
    gauge = quantity(given, "charge", Dimension.PRESSURE, "15 bar")
    from_k = quantity(
        {**given, "at": given.get("at") or "20 degC"}, "at", Dimension.TEMPERATURE, "20 degC"
    )
    to_k = quantity(given, "to", Dimension.TEMPERATURE, "35 degC")
    ambient = _ambient_pa(given, sheet)
    p1 = sheet.put(
        "p1", "Pressure, absolute", gauge + ambient, Dimension.PRESSURE, decimals=4,
        working="gauge + p_amb",
    )  # fmt: skip
    rho = sheet.put(
        "rho", "Nitrogen density", nitrogen.density_kg_m3(p1, from_k), Dimension.DENSITY,
        decimals=6, working="p = rho R T (1 + B rho + C rho^2), solved for rho",
        source="virial equation fitted to Span et al. (2000)",
    )  # fmt: skip
    p2 = sheet.put(
        "p2", "Pressure at the other temperature, absolute", nitrogen.pressure_pa(rho, to_k),
        Dimension.PRESSURE, decimals=4, working="rho R T2 (1 + B(T2) rho + C(T2) rho^2)",
        source="virial equation fitted to Span et al. (2000)",
    )  # fmt: skip
    sheet.put(
        "p2_gauge", "Gauge must show", p2 - ambient, Dimension.PRESSURE, decimals=3,
        working="p2 - p_amb",
    )  # fmt: skip
    return sheet


SHEETS = {"oil": oil_sheet, "gas": gas_sheet}
