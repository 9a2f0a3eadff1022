"""What is said of each kind of instrument: how it is proven, and how its values are written."""

import math
from collections.abc import Callable

from benchstation.domain.events import InstrumentChecked
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.instrument_bar import shown_of

PROVE = {
    InstrumentRole.SCALE: "Put a check weight on that has a certificate, say which, wait until it "
    "is steady, and check. It is received with the scale, for the check of each day.",
    InstrumentRole.GAUGE: "Let all pressure out of the line first, slowly and away from people. "
    "Then open it to the air and check the zero.",
    InstrumentRole.THERMOMETER: "Lay it beside a thermometer that you trust, out of sun and "
    "draught. Wait until both are settled, type what that one shows, and check.",
    InstrumentRole.BAROMETER: "Type what a barometer that you trust shows here: the pressure at "
    "this place, not the one reduced to sea level. Then check.",
    InstrumentRole.HYGROMETER: "Lay it beside a hygrometer that you trust. Wait until both "
    "are settled, type what that one shows, and check.",
}
NOMINAL = {
    InstrumentRole.SCALE: ("Its nominal mass, such as 200 g", ""),
    InstrumentRole.THERMOMETER: ("The trusted thermometer shows", "such as 21.4 °C"),
    InstrumentRole.BAROMETER: ("The trusted barometer shows", "such as 1009 hPa, at this place"),
    InstrumentRole.HYGROMETER: ("The trusted hygrometer shows", "such as 45 %"),
}
"""What is typed beside the reading; a gauge is checked at its zero and takes nothing."""
CAUSES = {
    InstrumentRole.SCALE: "Check weight, unit and zero",
    InstrumentRole.GAUGE: "Check that the line is open, and unit and zero",
    InstrumentRole.THERMOMETER: "Wait longer, and check the unit",
    InstrumentRole.BAROMETER: "Check the unit, and that neither is reduced to sea level",
    InstrumentRole.HYGROMETER: "Wait longer, and check the unit",
}
_U = {
    InstrumentRole.SCALE: ("0.03 g", "0.001 oz"),
    InstrumentRole.GAUGE: ("30 mbar", "0.5 psi"),
    InstrumentRole.THERMOMETER: ("0.2 K", "0.4 °F"),
    InstrumentRole.BAROMETER: ("0.5 hPa", "0.015 inHg"),
    InstrumentRole.HYGROMETER: ("2 %", "2 %"),
}


def u_such_as(role: InstrumentRole, system: UnitSystem) -> str:
    """Return a usual uncertainty, as an example to type by."""
    return f"such as {_U[role][system is UnitSystem.INCH_POUND]}"


ONE_POINT = {
    InstrumentRole.GAUGE: "A zero proves the zero, not the span: compare one pressure with a gauge "
    "that you trust before you rely on it.",
    InstrumentRole.THERMOMETER: "One point proves one point: compare a cold or warm one too before "
    "you rely on it far from here.",
}


def as_fine_as(
    words: QuantityFormatter, role: InstrumentRole, checked: InstrumentChecked
) -> tuple[Callable[[float], str], str]:
    """Return what words a value with as many decimals as the tolerance needs, and the tolerance."""
    decimals = decimals_of(words, checked.tolerance, role, digits=1)
    allowed = spread(words, role, checked.tolerance, decimals)
    if role is InstrumentRole.GAUGE:
        return lambda value: words.pressure(value, decimals), allowed
    return lambda value: str(shown_of(role, value, words, decimals)), allowed


def spread(words: QuantityFormatter, role: InstrumentRole, si: float, decimals: int | None) -> str:
    """Return how far values of a role may be off."""
    match role:
        case InstrumentRole.GAUGE:
            return words.pressure(si, decimals)
        case InstrumentRole.THERMOMETER:
            return words.temperature_difference(si, decimals)
    return str(shown_of(role, si, words, decimals))


_METRIC_SCALE = {
    InstrumentRole.SCALE: 1e3,
    InstrumentRole.GAUGE: 1e-5,
    InstrumentRole.THERMOMETER: 1.0,
    InstrumentRole.BAROMETER: 1e-2,
    InstrumentRole.HYGROMETER: 1e2,
}


def decimals_of(
    words: QuantityFormatter, resolution: float | None, role: InstrumentRole, *, digits: int = 0
) -> int | None:
    """Return the decimals of a device's last digit, and so many more, so that displays agree."""
    if resolution is None or words.system is not UnitSystem.METRIC:
        return None
    step = resolution * _METRIC_SCALE[role]
    return min(6, max(0, digits + round(-math.log10(step))))
