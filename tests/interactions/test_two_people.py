"""Two people where two are demanded, whatever comes between their signatures."""

import pytest

from benchstation.domain.disposition import Standing
from benchstation.domain.unit_commands import NotAllowedError
from tests.interactions.conftest import QA, SECOND


@pytest.mark.parametrize(
    ("word", "stands"),
    [
        ("", Standing.NOT_RELEASED),
        ("held", Standing.ON_HOLD),
        ("rejected", Standing.REJECTED),
        ("released", Standing.NOT_RELEASED),
    ],
)
def test_an_amendment_takes_the_first_signature_away(desk, word, stands):
    """It was given for the record as it stood; the unit still stood as waiting for the second."""
    unit = desk.filed()
    if word:
        desk.say(unit, word)
    desk.two_release(True)
    desk.say(unit)
    assert desk.standing(unit) is Standing.AWAITS_SECOND
    desk.amend(unit, "serial", f"{unit}-b")
    assert desk.standing(unit) is stands
    assert "second signature: have" in desk.say(unit, person=SECOND), "this is the first again"
    with pytest.raises(NotAllowedError, match="you signed this release already"):
        desk.say(unit, person=SECOND)
    assert desk.say(unit, person=QA) == "This unit is released."
