"""What the gauge proves: that the gas is out of the unit, or out of the fill line."""

from dataclasses import replace

from benchstation.bench.session import BenchSession
from benchstation.domain.rebuild import Rebuild
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.screens.model.elements import BigNumber, Tone


def zero_at_gauge(
    session: BenchSession, rebuild: Rebuild, words: QuantityFormatter
) -> tuple[bool, BigNumber, tuple[str, Tone]]:
    """Return True within the zero band, with the number and a line of words."""
    band = rebuild.specification.gas.release_zero_band
    gauge = session.gauge.good_value(session.clock.seconds())
    empty = gauge is not None and abs(gauge) <= band
    number = words.pressure_shown(gauge if gauge is not None else float("nan"))
    if gauge is None:
        line, tone = "no valid reading: this never counts as zero", Tone.DANGER
    elif empty:
        line, tone = f"within ± {words.pressure(band)}", Tone.PLAIN
    else:
        line, tone = (
            f"still under pressure: not within ± {words.pressure(band)}",
            Tone.CAUTION,
        )
    big = BigNumber("pressure in the unit", number.number, f"{number.unit} gauge", tone)
    return empty, big, (line, tone)


def as_found(rebuild: Rebuild, words: QuantityFormatter) -> tuple[tuple[str, Tone], ...]:
    """Return what pressure the gauge found in the unit, or that it saw none."""
    found = rebuild.gas_found
    if found is None:
        return (("the gauge has seen no gas in this unit", Tone.CAUTION),)
    said = f"as found {words.gauge(found.before_joining_gauge_pa)}"
    lines = [(said, Tone.PLAIN)]
    if found.overdue:
        lines.append(("the gauge is overdue for calibration", Tone.CAUTION))
    return tuple(lines)


def fill_line_at_gauge(
    session: BenchSession, rebuild: Rebuild, words: QuantityFormatter
) -> tuple[bool, BigNumber | None, tuple[str, Tone]]:
    """Return True when the fill line is under pressure, with the number and a line of words.

    Without a valid reading there is no number: then the step rests on the person's word.
    """
    gauge = session.gauge.good_value(session.clock.seconds())
    gas = rebuild.specification.gas
    if gauge is None:
        said = "no valid reading: the vented line is recorded by your word alone"
        return False, None, (said, Tone.MANDATORY)
    band = words.pressure(gas.release_zero_band)
    pressed = gas.under_pressure(gauge)
    number = words.pressure_shown(gauge)
    tone = Tone.CAUTION if pressed else Tone.PLAIN
    big = BigNumber("pressure in the fill line", number.number, f"{number.unit} gauge", tone)
    if gauge < -gas.release_zero_band:
        off = f"the gauge's zero is off: outside ± {band}, the charge is undecided"
        return True, replace(big, tone=Tone.CAUTION), (off, Tone.CAUTION)
    if not pressed:
        return False, big, (f"within ± {band}", tone)
    why = f"the line is under pressure: close screw and bottle, vent it to within ± {band}"
    return True, big, (why, tone)
