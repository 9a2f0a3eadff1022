"""A step's form, and whether the gauge proves that the gas is out."""

from benchstation.bench_view import BigNumber, FieldKind, FieldView, Tone
from benchstation.rebuild.rebuild import Rebuild
from benchstation.rebuild.specification import Step
from benchstation.station.desk import Desk
from benchstation.words import Words


def form_of(step: Step) -> tuple[FieldView, ...]:
    """Give the fields of a step: each statement to confirm, each note to write."""
    checks = [
        FieldView(f"confirm{n}", text, FieldKind.CHECK)
        for n, text in enumerate(step.confirmations, 1)
    ]
    notes = [
        FieldView(
            note.id,
            note.label if note.required else f"{note.label} (may stay empty)",
            FieldKind.TEXT,
            hint=note.hint,
        )
        for note in step.notes
    ]
    return (*checks, *notes)


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
