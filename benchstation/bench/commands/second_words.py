"""What a second reading means for the hand."""

from benchstation.domain.events import SecondReadingJudged
from benchstation.domain.second_reading import SecondDoubt
from benchstation.domain.unit_commands import PASS
from benchstation.metrology.conformity import Decision
from benchstation.quantities.formatter import QuantityFormatter

OR_ACCEPT = "or a bench lead or QA accepts it as a deviation."
_DOUBT = {
    SecondDoubt.GAINED: ("it shows more gas than before", "Read it again"),
    SecondDoubt.CHARGE_LOW: (
        "the leak passes, but the fill tool took too much gas",
        "Go back and charge it again",
    ),
    SecondDoubt.NEAR_LIMIT: ("too near the limit to tell", "Let it wait longer; read it again"),
}


def after_second(found: SecondReadingJudged, words: QuantityFormatter) -> str:
    """Return the leak rate, the decision and what it asks for."""
    leak = words.leak(found.rate_pa_m3_s, 2 * found.u_rate_pa_m3_s)
    if found.decision == PASS:
        return f"{leak}, {PASS}."
    if found.decision == Decision.FAIL.value:
        return f"{leak}, {found.decision}, it loses too much. Find the leak, charge it again; " + (
            OR_ACCEPT
        )
    if found.disbelieved:
        why = f"mass and pressure disagree; the {found.disbelieved} is not used"
        return f"{leak}, {found.decision}: {why}. Read the {found.disbelieved} again; {OR_ACCEPT}"
    why, do = _DOUBT[SecondDoubt(found.doubt)]
    return f"{leak}, {found.decision}: {why}. {do}; {OR_ACCEPT}"
