"""Nobody signs or captures past the note of a hand-over that was not read."""

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.demo import shop as demo
from benchstation.domain.events import GasFound, GaugeZero
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from tests.oil_hands import act, tare

WORK = (
    *("sign", "deviation", "tare", "capture", "nothing_bled", "hold", "file"),
    *("ways", "by_loss", "topup", "spill", "main", "again", "other_lot", "pour_rest"),
    *("by_hand", "take_by_hand", "add_photo", "newest_photo", "set_photo_aside", "same_lots"),
)
FORM = {
    "confirm1": "yes",
    "confirm2": "yes",
    "reason": "late",
    "note1": "ok",
    "signature": demo.PIN,
}


def handed_over(bench, person=demo.LEAD):
    act(bench, "hand_over", reason="the piston sits askew")
    bench.sign_in(person)


@pytest.mark.parametrize(
    "kind",
    [k for k in StepKind if k.value in ("release", "confirm", "weigh", "bleed", "charge", "file")],
)
def test_no_action_signs_or_captures_past_the_note(bench, kind):
    bench.work_to(kind)
    bench.sign_in()
    handed_over(bench)
    head = bench.store.head()
    for action in WORK:
        with pytest.raises(NotAllowedError, match="nobody has read the note"):
            act(bench, action, **FORM)
    bench.run(5)
    # What the gauge shows by itself is no work of anybody.
    since = [e.event for e in bench.store.entries() if e.seq > head[0]]
    assert all(isinstance(event, GaugeZero | GasFound) for event in since), since
    act(bench, "take_over")
    bench.run(1)
    assert bench.session.unit().unread is None
    act(bench, "cancel")


def test_the_note_goes_first_where_the_gas_must_be_proven_out_anew(bench):
    bench.work_to(StepKind.PARTS)
    unit = bench.session.unit().unit_id
    bench.sign_in()
    act(bench, "hand_over", reason="the piston sits askew")
    bench.sign_in(demo.LEAD)
    act(bench, "set_aside", reason="waits")
    act(bench, "fetch", unit=unit)
    with pytest.raises(NotAllowedError, match="the piston sits askew"):
        act(bench, "prove", confirm1="yes")
    act(bench, "take_over")
    act(bench, "prove", confirm1="yes")


def test_a_tare_outlives_the_note_and_nothing_is_captured_before_it_is_read(bench):
    bench.work_to(StepKind.WEIGH)
    bench.sign_in()
    tare(bench, "body")
    bench.pour(0.1)
    act(bench, "capture")
    handed_over(bench)
    bench.run(10)
    assert bench.session.unit().captures == ()
    act(bench, "take_over")
    bench.run(10)
    assert bench.session.unit().captures == (), "what was asked for was taken back"
    assert bench.session.work.weighing.phase is Phase.POURING
    act(bench, "capture")
    bench.until(lambda: bench.session.unit().captures)


def test_the_way_back_stays_open_past_the_note(bench):
    """Gas may have to be let out before anybody reads anything."""
    bench.work_to(StepKind.CHARGE)
    bench.sign_in()
    handed_over(bench)
    act(bench, "back", step="release", reason="it leaks")
    assert bench.session.unit().current.kind is StepKind.RELEASE
    with pytest.raises(StationError, match="nobody has read"):
        act(bench, "sign", **FORM)
