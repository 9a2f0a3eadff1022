"""Limits with their margins, the two windows, and what a millilitre and a bar do."""

from benchstation.cli.calc.sheet import Sheet
from benchstation.physics.assessment import Assessment, Build
from benchstation.physics.limits import Limit
from benchstation.quantities.units import Dimension, little, shown

_P, _V, _L, _F = Dimension.PRESSURE, Dimension.VOLUME, Dimension.LENGTH, Dimension.FORCE
_OF_LIMIT = {
    Limit.HOT_PRESSURE: _P,
    Limit.ROD_SIDE: _P,
    Limit.GAS_ROOM: _L,
    Limit.CLEARANCE: _L,
    Limit.PISTON_TRAVEL: _L,
    Limit.CAVITATION: _F,
    Limit.RETURN: _F,
    Limit.EQUATION: _P,
}


def put_limits(sheet: Sheet, found: Assessment) -> None:
    """Put the margin of every judged limit."""
    sheet.heading("Limits, and what is to spare")
    for limit, margin in found.margins.items():
        text = str(shown(margin, _OF_LIMIT[limit], sheet.system))
        words = text if margin >= 0.0 else f"{text}, does NOT hold"
        name = limit.value[0].upper() + limit.value[1:]
        sheet.say(f"margin_{limit.name.lower()}", name, margin, words)


def put_windows(sheet: Sheet, build: Build, found: Assessment) -> None:
    """Put fill and charge window with the limit that closes each end."""
    fill, charge = found.fill, found.charge
    sheet.heading("Fill window, at the specified charge")
    _end(sheet, "V_least", "Least oil", fill.least_m3, _V, fill.least_closed_by)
    inside = "inside" if fill.contains(build.oil_volume_m3) else "OUTSIDE"
    oil = shown(build.oil_volume_m3, _V, sheet.system)
    sheet.say("V_here", "This fill", build.oil_volume_m3, f"{oil}, {inside}")
    _end(sheet, "V_most", "Most oil", fill.most_m3, _V, fill.most_closed_by)
    if fill.is_empty:
        sheet.note("No fill fits: the least oil is more than the most.")
    sheet.heading("Charge window, with this oil")
    _end(sheet, "p_least", "Least charge, gauge", charge.least_gauge_pa, _P, charge.least_closed_by)
    inside = "inside" if charge.contains(build.charge_gauge_pa) else "OUTSIDE"
    here = shown(build.charge_gauge_pa, _P, sheet.system)
    sheet.say("p_here", "This charge, gauge", build.charge_gauge_pa, f"{here}, {inside}")
    _end(sheet, "p_most", "Most charge, gauge", charge.most_gauge_pa, _P, charge.most_closed_by)
    for limit in charge.broken:
        sheet.note(f"No charge mends this fill: it breaks the {limit.value}.")


def _end(
    sheet: Sheet, symbol: str, name: str, value: float, dimension: Dimension, limit: Limit | None
) -> None:
    closed = limit.value if limit else "nothing"
    sheet.say(
        symbol, name, value,
        f"{shown(value, dimension, sheet.system)}, limited by: {closed}",
        working="the value at which that limit has no margin left, by bisection",
    )  # fmt: skip


_ROWS = (
    ("out_hot_pa", "Pressure, fully out, hot", _P),
    ("bump_slow_reference_pa", "Full bump, slow, reference", _P),
    ("bump_fast_reference_pa", "Full bump, fast, reference", _P),
    ("bump_slow_hot_pa", "Full bump, slow, hot", _P),
    ("bump_fast_hot_pa", "Full bump, fast, hot", _P),
    ("push_force_n", "Push force, fully out, reference", _F),
    ("cavitation_force_cold_n", "Compression force before cavitation, cold", _F),
    ("room_bump_hot_m", "Floating piston from the gas end, full bump, hot", _L),
    ("clearance_bump_cold_m", "Floating piston to main piston, full bump, cold", _L),
    ("piston_depth_m", "Floating piston's depth", _L),
)
_DECIMALS = {_P: 3, _F: 2, _L: 3}


def put_sensitivities(sheet: Sheet, found: Assessment) -> None:
    """Put the change of each result for a little more oil, and for a little more charge."""
    oil, oil_word = little(_V, sheet.system)
    charge, charge_word = little(_P, sheet.system)
    for heading, symbol, slopes, step in (
        (f"What {oil_word} more oil changes, charged to the same pressure", "oil",
         found.per_oil_m3, oil),
        (f"What {charge_word} more charge changes", "charge", found.per_charge_pa, charge),
    ):  # fmt: skip
        sheet.heading(heading)
        for key, name, dimension in _ROWS:
            slope = getattr(slopes, key)
            change = shown(slope * step, dimension, sheet.system, decimals=_DECIMALS[dimension])
            sign = "+" if change.value > 0.0 and not change.number.startswith("0.000") else ""
            sheet.say(
                f"d_{key}_per_{symbol}", name, slope, f"{sign}{change}",
                working="" if key != _ROWS[0][0] else "central difference of the whole "
                "computation, as all that follow",
            )  # fmt: skip
