"""How the oil was weighed, in lines for paper and screen; older records say less."""

from benchstation.domain.disposition import ALONE, plain_word
from benchstation.domain.duties import NOT_INDEPENDENT
from benchstation.domain.recorded_parts import ReadByHand
from benchstation.domain.scale_alive import touched
from benchstation.domain.unit_record import (
    RecordedCapture,
    RecordedOil,
    UnitRecord,
)
from benchstation.quantities.formatter import QuantityFormatter

NOUN = {
    "pour": "Poured",
    "topup": "Topped up",
    "bleed": "Bled",
    "spill": "Spilled or taken out",
    "before": "Unit before the pour",
}


def lots_of(oil: RecordedOil) -> list[str]:
    """Return the lots that are in the unit."""
    return [lot.lot for lot in oil.lots] or [oil.lot]


def pour_goal_kg(oil: RecordedOil) -> float | None:
    """Return where the trace of the pour had to end; ``None`` where it is but one part of it."""
    pours = [c for c in oil.captures if c.purpose == "pour" and c.counts]
    if len({(c.portion, c.lot) for c in pours}) > 1:
        return None
    return oil.terms.pour_shown_kg


def weighing_lines(oil: RecordedOil, words: QuantityFormatter) -> list[str]:
    """Return a line for each weighing, where there is more to say than one pour and one bleed."""
    captures = [c for c in oil.captures if c.method]
    plain = [("pour", "gain"), ("bleed", "gain")]
    usual = all((c.purpose, c.method) in plain and not touched(c.alive) for c in captures)
    if usual and len(captures) <= 2:
        return []
    lots = {lot.lot: lot for lot in oil.lots}
    lines = [_line(c, words) for c in captures]
    if len(lots) > 1:
        lines += [
            f"Oil of lot {name}: {words.mass(lot.added_shown_kg, 2)}, "
            f"{words.volume(lot.added_volume_ref_m3)} by its own density"
            for name, lot in lots.items()
        ]
    return lines


def _line(capture: RecordedCapture, words: QuantityFormatter) -> str:
    how = "by hand" if capture.by_hand else f"by {capture.method}"
    parts = [f"{NOUN[capture.purpose]} {words.mass(capture.shown_kg, 2)}, {how}"]
    if capture.lot and capture.purpose != "before":
        parts.append(f"lot {capture.lot}")
    if not capture.counts and capture.purpose != "before":
        parts.append("weighed again since")
    if touched(capture.alive):
        parts.append(f"scale: {touched(capture.alive)}")
    return ", ".join(parts)


def by_hand_lines(record: UnitRecord, words: QuantityFormatter) -> list[str]:
    """Return a line for each value that was read by hand and counts."""
    lines = [
        f"By hand, {NOUN[c.purpose].lower()} {words.mass(c.shown_kg, 2)}, "
        f"{_read_on(c.by_hand)}, U {words.mass(c.by_hand.expanded, 2)}"
        for c in record.oil.captures
        if c.by_hand is not None and c.counts
    ]
    charge = record.charge
    if charge.by_hand is not None:
        lines.append(
            f"By hand, charge {words.gauge(charge.settled_gauge_pa)}, "
            f"{_read_on(charge.by_hand)}, U {words.pressure(charge.by_hand.expanded)}"
        )
    return lines


def _read_on(by_hand: ReadByHand) -> str:
    by = f"confirmed by {by_hand.confirmed_by}"
    if by_hand.confirmed_by.endswith(ALONE):
        by = f"signed twice by {plain_word(by_hand.confirmed_by)}: {NOT_INDEPENDENT}"
    return f"read on {by_hand.instrument}, serial {by_hand.serial_number}, {by}"
