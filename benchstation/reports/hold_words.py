"""What a hold test rested on beside its readings: the unit's temperature, and its doubt."""

from benchstation.domain.gas_charge import HoldDoubt
from benchstation.domain.unit_record import RecordedHold
from benchstation.quantities.formatter import QuantityFormatter

DOUBTS = {
    HoldDoubt.STUCK: "the gauge shows no sign of life",
    HoldDoubt.RISE: "the pressure rose",
    HoldDoubt.TEMPERATURE: "the unit's temperature could explain it",
    HoldDoubt.SLOW_COOLING: "slow cooling could explain it",
    HoldDoubt.TOO_COARSE: "this gauge cannot tell yet",
    HoldDoubt.NEAR_LIMIT: "too near the limit to tell",
}


def hold_lines(hold: RecordedHold, words: QuantityFormatter) -> list[tuple[str, str]]:
    """Return the unit's drift to the room in a hold test, and its doubt, as (what, value)."""
    lines = []
    if hold.drift is not None:
        drift = hold.drift
        rate = words.loss_rate(-drift.rate_pa_s, drift.u_rate_pa_s)
        u = words.loss_rate(2 * drift.u_rate_pa_s, drift.u_rate_pa_s)
        lines.append(("Drift to the room", f"{rate}, U {u}"))
    if hold.doubt:
        lines.append(("Hold test undecided", DOUBTS[HoldDoubt(hold.doubt)]))
    return lines
