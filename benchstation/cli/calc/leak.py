"""``calc leak``: a leak rate from a hold, in the units people use, and the hold that proves it."""

import argparse
import math

from benchstation.cli.calc.gas import OIL_LEFT_OUT, SPAN
from benchstation.cli.calc.given import Given, Option
from benchstation.cli.calc.sheet import Sheet
from benchstation.cli.calc.surroundings import add_ambient, ambient_pa
from benchstation.physics.leak import (
    PA_M3_S_PER_MBAR_L_S,
    PA_M3_S_PER_SCCM,
    YEAR_S,
    at_temperature_pa,
    loss_per_year_pa,
    shortest_hold_s,
    two_point_leak_pa_m3_s,
)
from benchstation.quantities.notation import scientific
from benchstation.quantities.units import Dimension, UnitSystem, shown

VOLUME = Option("volume", "volume under test", Dimension.VOLUME, "50 mL", "1 mL", "100 L")
RATE = Option(
    "rate", "a leak rate, in place of a hold", Dimension.LEAK, "1e-4 Pa*m**3/s",
    "0 Pa*m**3/s", "1 Pa*m**3/s",
)  # fmt: skip
FIRST = Option("first", "gauge pressure at the start", Dimension.PRESSURE, "20 bar", "0 bar",
               "59 bar")  # fmt: skip
LAST = Option("last", "gauge pressure at the end", Dimension.PRESSURE, "19.98 bar", "0 bar",
              "59 bar")  # fmt: skip
DURATION = Option("duration", "length of the hold", Dimension.TIME, "60 s", "1 s", "1000 h")
FIRST_AT = Option("first-at", "temperature at the start", Dimension.TEMPERATURE, "20 degC",
                  "-20 degC", "120 degC", "20 degC")  # fmt: skip
LAST_AT = Option("last-at", "temperature at the end (as at the start if not given)",
                 Dimension.TEMPERATURE, "20 degC", "-20 degC", "120 degC")  # fmt: skip
LIMIT = Option("limit", "allowed leak rate", Dimension.LEAK, "2e-3 Pa*m**3/s", "1e-12 Pa*m**3/s",
               "1 Pa*m**3/s")  # fmt: skip
U_READING = Option("reading-uncertainty", "standard uncertainty of one reading over the hold",
                   Dimension.PRESSURE, "100 Pa", "0 Pa", "1 bar")  # fmt: skip
TERMS = "EN 1779 / ISO 20484, pressure change"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare the options of this sheet."""
    for option in (VOLUME, FIRST, LAST, DURATION, FIRST_AT, LAST_AT, RATE, LIMIT, U_READING):
        option.add_to(parser)
    add_ambient(parser)


def work_out(given: Given, system: UnitSystem) -> Sheet:
    """Return a leak rate and what it means, and the shortest hold that proves the limit."""
    sheet = Sheet(system)
    volume = sheet.put("V", "Volume under test", given.need(VOLUME), Dimension.VOLUME, decimals=2)
    u, limit = given.maybe(U_READING), given.maybe(LIMIT)
    held = given.has(FIRST) or given.has(LAST) or given.has(DURATION)
    rate = given.maybe(RATE)
    if rate is not None and not held:
        _rates(sheet, sheet.put("q", "Leak rate", rate, Dimension.LEAK), volume)
    elif held or limit is None:
        rate = _hold(sheet, given, volume, u)
        _rates(sheet, rate, volume)
    if limit is not None:
        sheet.heading("Proof")
        sheet.put("q_max", "Allowed leak rate", limit, Dimension.LEAK)
        _proof(sheet, volume, limit, given.need(U_READING))
    return sheet


def _hold(sheet: Sheet, given: Given, volume: float, u: float | None) -> float:
    first, last, seconds = given.need(FIRST), given.need(LAST), given.need(DURATION)
    t1 = given.need(FIRST_AT)
    t2 = given.maybe(LAST_AT) or t1
    ambient = ambient_pa(given, sheet)
    sheet.put("p1", "First reading, absolute", first + ambient, Dimension.PRESSURE, decimals=4)
    sheet.put("p2", "Last reading, absolute", last + ambient, Dimension.PRESSURE, decimals=4)
    sheet.put("T1", "Temperature at the start", t1, Dimension.TEMPERATURE, decimals=2)
    sheet.put("T2", "Temperature at the end", t2, Dimension.TEMPERATURE, decimals=2)
    sheet.put("t", "Length of the hold", seconds, Dimension.TIME)
    back = at_temperature_pa(last + ambient, t2, t1)
    if t1 != t2:
        sheet.put(
            "p2_T1", "Last reading at the first temperature", back, Dimension.PRESSURE, decimals=4,
            working="p(rho(p2, T2), T1), nitrogen as a real gas", source=SPAN,
        )  # fmt: skip
        sheet.note(OIL_LEFT_OUT)
    rate = two_point_leak_pa_m3_s(
        first + ambient, last + ambient, seconds, volume, t1_k=t1, t2_k=t2
    )
    sheet.put(
        "q", "Leak rate", rate, Dimension.LEAK,
        working="V (p1 - p2_T1) / t" if t1 != t2 else "V (p1 - p2) / t",
        figures=f"{scientific(volume, 5)} ({first + ambient:.1f} - {back:.1f}) / {seconds:g} "
        "Pa m3/s",
        source=TERMS,
    )  # fmt: skip
    if u is not None:
        sheet.put(
            "u_q", "Standard uncertainty of the leak rate", math.sqrt(2.0) * u * volume / seconds,
            Dimension.LEAK, working="sqrt(2) u_p V / t", source="GUM, JCGM 100",
        )  # fmt: skip
    return rate


def _rates(sheet: Sheet, rate: float, volume: float) -> None:
    sheet.say(
        "q_mbar", "the same", rate, f"{rate / PA_M3_S_PER_MBAR_L_S:.4g} mbar L/s",
        working="q / 0.1", source="definition of the units",
    )  # fmt: skip
    sheet.say(
        "q_sccm", "the same", rate, f"{rate / PA_M3_S_PER_SCCM:.4g} cm3/min at 0 °C, 101325 Pa",
        working="q / (0.101325 / 60)", source="definition of the units",
    )  # fmt: skip
    year = loss_per_year_pa(rate, volume)
    sheet.say(
        "dp_year", "Loss in a year at this rate", year / YEAR_S,
        f"{shown(year, Dimension.PRESSURE, sheet.system, decimals=3)} per year",
        working="q × 365 d / V", source=TERMS,
    )  # fmt: skip


def _proof(sheet: Sheet, volume: float, limit: float, u: float) -> None:
    sheet.put("u_p", "Standard uncertainty of one reading", u, Dimension.PRESSURE, decimals=5)
    sheet.put(
        "t_min", "Shortest hold that proves the limit", shortest_hold_s(limit, volume, u),
        Dimension.TIME, working="1.645 sqrt(2) u_p V / q_max, for a tight unit",
        source="ISO 14253-1 / JCGM 106, guard band of 95 %",
    )  # fmt: skip
