"""Whether the gauge proves that the gas is out."""

from benchstation.screens.model.bench import BigNumber, Tone
from benchstation.domain.rebuild import Rebuild
from benchstation.bench.session import Desk
from benchstation.quantities.formatter import Words


def zero_at_gauge(
    desk: Desk, rebuild: Rebuild, words: Words
) -> tuple[bool, BigNumber, tuple[str, Tone]]:
    """Say whether the gauge stands within the zero band, with the number and a line of words."""
    band = rebuild.specification.gas.release_zero_band
    gauge = desk.gauge.good_value(desk.clock.seconds())
    empty = gauge is not None and abs(gauge) <= band
    number = words.pressure_shown(gauge if gauge is not None else float("nan"))
    if gauge is None:
        line, tone = "no valid reading: this never counts as zero", Tone.DANGER
    elif empty:
        line, tone = f"inside ± {words.pressure(band)}", Tone.GOOD
    else:
        line, tone = (
            f"still under pressure; go on until inside ± {words.pressure(band)}",
            Tone.CAUTION,
        )
    big = BigNumber("pressure in the unit", number.number, f"{number.unit} gauge", tone)
    return empty, big, (line, tone)
