"""What stands at a gauge while an alarm of it is open."""

import pytest

from benchstation.domain.guard import AlarmKind, AlarmState, AlarmView
from benchstation.screens.bench.instrument_bar import alarm_at
from benchstation.screens.model.elements import Tone

ACTIVE, SEEN = AlarmState.ACTIVE_UNACKNOWLEDGED, AlarmState.ACTIVE_ACKNOWLEDGED
BACK = AlarmState.RETURNED_UNACKNOWLEDGED


def alarm(kind: AlarmKind, state: AlarmState) -> AlarmView:
    return AlarmView(kind, state, "E1", 0.0, None, None, "", "", "")


@pytest.mark.parametrize("state", [ACTIVE, SEEN])
def test_what_is_so_now_is_as_red_as_it_is_bad(state):
    assert alarm_at([alarm(AlarmKind.HIGH_LIMIT, state)]) == (["high limit"], Tone.DANGER)
    assert alarm_at([alarm(AlarmKind.HIGH_WARNING, state)]) == (["high warning"], Tone.CAUTION)
    assert alarm_at([alarm(AlarmKind.SIGNAL_LOST, state)]) == (["signal lost"], Tone.DANGER)


def test_what_is_back_to_normal_says_so_and_is_not_red():
    said = alarm_at([alarm(AlarmKind.SIGNAL_LOST, BACK)])
    assert said == (["signal lost: back to normal"], Tone.CAUTION)


def test_what_is_still_so_comes_before_a_worse_one_that_is_back():
    both = [alarm(AlarmKind.HIGH_LIMIT, BACK), alarm(AlarmKind.HIGH_WARNING, ACTIVE)]
    assert alarm_at(both) == (["high warning"], Tone.CAUTION)
    signal = [alarm(AlarmKind.HIGH_LIMIT, BACK), alarm(AlarmKind.FROZEN, ACTIVE)]
    assert alarm_at(signal) == (["gauge frozen"], Tone.DANGER)


def test_without_an_alarm_nothing_is_said():
    assert alarm_at([]) == ([], None)
