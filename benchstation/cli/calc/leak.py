"""``calc leak``: a leak rate from a hold, in the units people use, and the hold that proves it."""

import argparse
import math

from benchstation.cli.calc.gas import OIL_LEFT_OUT, SPAN
from benchstation.cli.calc.given import Given, Option
from benchstation.cli.calc.sheet import Sheet
from benchstation.cli.calc.surroundings import add_ambient, ambient_pa
from benchstation.domain.gas_charge import ANY_BODY, judge_hold
from benchstation.physics.leak import (
    PA_M3_S_PER_MBAR_L_S,
    PA_M3_S_PER_SCCM,
    Leak,
    at_standard_temperature_pa_m3_s,
    at_temperature_pa,
    loss_rate_pa_s,
    shortest_hold_s,
    two_point_leak_pa_m3_s,
)
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import scientific
from benchstation.quantities.units import Dimension, UnitError, UnitSystem

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
LOST = Option("lost", "charge that may be lost in service, in place of --limit",
              Dimension.PRESSURE, "1 bar", "1 Pa", "59 bar")  # fmt: skip
WITHIN = Option("within", "in so much of service", Dimension.TIME, "365 d", "1 h", "100 year",
                "365 d")  # fmt: skip
U_READING = Option("reading-uncertainty", "standard uncertainty of one reading over the hold",
                   Dimension.PRESSURE, "100 Pa", "0 Pa", "1 bar")  # fmt: skip
_OPTIONS = (
    VOLUME, FIRST, LAST, DURATION, FIRST_AT, LAST_AT, RATE, LIMIT, LOST, WITHIN, U_READING,
)  # fmt: skip
TERMS = "EN 1779 / ISO 20484, pressure change"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare the options of this sheet."""
    for option in _OPTIONS:
        option.add_to(parser)
    add_ambient(parser)


def work_out(given: Given, system: UnitSystem) -> Sheet:
    """Return a leak rate and what it means, and the shortest hold that proves the limit."""
    sheet = Sheet(system)
    volume = sheet.put("V", "Volume under test", given.need(VOLUME), Dimension.VOLUME, decimals=2)
    u, limit = given.maybe(U_READING), given.maybe(LIMIT)
    lost = given.maybe(LOST)
    if lost is not None and limit is not None:
        raise UnitError("either this or --limit is given.", where="--lost", advice="Give one.")
    held = given.has(FIRST) or given.has(LAST)
    rate = given.maybe(RATE)
    u_rate: float | None = None
    if rate is not None and not held:
        gas_k = given.need(FIRST_AT)
        sheet.put("T1", "Temperature of the gas", gas_k, Dimension.TEMPERATURE, decimals=2)
        sheet.put("q", _of_gas_at(sheet, gas_k), rate, Dimension.LEAK)
        _rates(sheet, rate, volume, gas_k)
    elif held or (limit is None and lost is None):
        rate, u_rate = _hold(sheet, given, volume, u)
        _rates(sheet, rate, volume, given.need(FIRST_AT))
    if lost is not None:
        sheet.heading("Service")
        within = given.need(WITHIN)
        sheet.put("dp", "May be lost", lost, Dimension.PRESSURE, decimals=3)
        sheet.say("t_s", "In so much of service", within, _lasting(within))
        limit = sheet.put(
            "q_max", "Allowed leak rate", volume * lost / within, Dimension.LEAK,
            working="V dp / t_s", source=TERMS,
        )  # fmt: skip
    elif limit is not None:
        sheet.heading("Proof")
        sheet.put("q_max", "Allowed leak rate", limit, Dimension.LEAK)
    if limit is not None:
        _loss(sheet, "dp_max", "Loss at this rate", limit, volume, "q_max / V")
    if limit is not None and rate is not None:
        _verdict(sheet, rate, u_rate, limit)
    if limit is not None and (u is not None or lost is None):
        _proof(sheet, given, volume, limit, given.need(U_READING))
    return sheet


def _hold(sheet: Sheet, given: Given, volume: float, u: float | None) -> tuple[float, float | None]:
    """Put the hold and its leak rate; return the rate and its standard uncertainty, if known."""
    first, last, seconds = given.need(FIRST), given.need(LAST), given.need(DURATION)
    t1 = given.need(FIRST_AT)
    t2 = given.maybe(LAST_AT) or t1
    ambient = ambient_pa(given, sheet)
    sheet.put("p1", "First reading, absolute", first + ambient, Dimension.PRESSURE, decimals=4)
    sheet.put("p2", "Last reading, absolute", last + ambient, Dimension.PRESSURE, decimals=4)
    sheet.put("T1", "Temperature at the start", t1, Dimension.TEMPERATURE, decimals=2)
    sheet.put("T2", "Temperature at the end", t2, Dimension.TEMPERATURE, decimals=2)
    sheet.say("t", "Length of the hold", seconds, _lasting(seconds))
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
        "q", _of_gas_at(sheet, t1), rate, Dimension.LEAK,
        working="V (p1 - p2_T1) / t" if t1 != t2 else "V (p1 - p2) / t",
        figures=f"{scientific(volume, 5)} ({first + ambient:.1f} - {back:.1f}) / {seconds:g} "
        "Pa m3/s",
        source=TERMS,
    )  # fmt: skip
    if u is None:
        return rate, None
    u_rate = sheet.put(
        "u_q", "Standard uncertainty of the leak rate", math.sqrt(2.0) * u * volume / seconds,
        Dimension.LEAK, working="sqrt(2) u_p V / t", source="GUM, JCGM 100",
    )  # fmt: skip
    return rate, u_rate


def _of_gas_at(sheet: Sheet, gas_k: float) -> str:
    """Return what the rate is called: it counts gas at a temperature, the first of the hold."""
    return f"Leak rate, gas at {QuantityFormatter(sheet.system).temperature(gas_k)}"


def _lasting(seconds: float) -> str:
    """Return a length of time in the unit that keeps its figure short."""
    for unit, size in (("d", 86400.0), ("h", 3600.0)):
        if seconds >= 2.0 * size:
            return f"{seconds / size:.6g} {unit}"
    return f"{seconds:.1f} s"


def _verdict(sheet: Sheet, rate: float, u_rate: float | None, limit: float) -> None:
    """Put whether the rate is allowed, by the rule of the bench where its uncertainty is known."""
    times = f"{max(rate, 0.0) / limit:.3g} times the allowed rate"
    if u_rate is None:
        side = "above" if rate > limit else "within"
        text, source = f"{side} the limit, {times}; nothing proven without its uncertainty", ""
    else:
        leak = Leak(rate, u_rate, u_rate, 0.0, math.nan, math.nan)
        text = f"{judge_hold(leak, limit, body=ANY_BODY).decision.value}, {times}"
        source = "ISO 14253-1, guard band of 2 u_q"
    sheet.say("verdict", "Against the limit", rate / limit, text, source=source)


def _rates(sheet: Sheet, rate: float, volume: float, gas_k: float) -> None:
    sheet.say(
        "q_mbar", "the same", rate, f"{rate / PA_M3_S_PER_MBAR_L_S:.4g} mbar L/s",
        working="q / 0.1", source="definition of the units",
    )  # fmt: skip
    standard = at_standard_temperature_pa_m3_s(rate, gas_k)
    sheet.say(
        "q_sccm", "the same gas, counted at 0 °C and 101325 Pa", standard,
        f"{standard / PA_M3_S_PER_SCCM:.4g} cm3/min",
        working="q (273.15 K / T1) / (0.101325 / 60)",
        figures=f"{scientific(rate, 4)} (273.15 / {gas_k:.2f}) / (0.101325 / 60)",
        source="definition of the units; n = pV / RT, an ideal gas",
    )  # fmt: skip
    _loss(sheet, "dp_rate", "Loss at this rate", rate, volume, "q / V")


def _loss(sheet: Sheet, symbol: str, name: str, rate: float, volume: float, working: str) -> None:
    """Put how fast the pressure falls: by the year, the day or the hour, as people see it."""
    per_s = loss_rate_pa_s(rate, volume)
    sheet.say(
        symbol, name, per_s, QuantityFormatter(sheet.system).loss_rate(per_s), working=working,
        source=TERMS,
    )  # fmt: skip


def _proof(sheet: Sheet, given: Given, volume: float, limit: float, u: float) -> None:
    seconds = given.maybe(DURATION)
    if seconds is not None:
        sheet.put(
            "q_least", "Least leak that a hold of this length tells",
            2.0 * math.sqrt(2.0) * u * volume / seconds, Dimension.LEAK,
            working="2 sqrt(2) u_p V / t", source="GUM, JCGM 100, k = 2",
        )  # fmt: skip
    sheet.put("u_p", "Standard uncertainty of one reading", u, Dimension.PRESSURE, decimals=5)
    shortest = shortest_hold_s(limit, volume, u)
    sheet.say(
        "t_min", "Shortest hold that proves the limit", shortest, _lasting(shortest),
        working="1.645 sqrt(2) u_p V / q_max, for a tight unit",
        source="ISO 14253-1 / JCGM 106, guard band of 95 %",
    )  # fmt: skip
