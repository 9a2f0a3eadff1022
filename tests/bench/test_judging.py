"""A form is judged while it is typed by the rules of its taking, and nothing is done by it."""

import pytest

from benchstation.bench.judging import wrong_fields
from benchstation.demo import shop as demo
from benchstation.domain.specification import StepKind
from benchstation.driver_api.errors import StationError
from tests.bench.test_recorded_steps import at

LOT = {
    "lot": "L-9",
    "oil": "light damper oil",
    "density": "0.85",
    "u": "0.0003",
    "source": "certificate 7",
    "supplier": "A",
}
BY_CERTIFICATE = "receive_certificate"
GOOD_SERIAL = "MR-9"
CASES = [
    (BY_CERTIFICATE, LOT | {"density": "85O"}, "density", "85O"),
    (BY_CERTIFICATE, LOT | {"density": "12 mm"}, "density", "mm"),
    (BY_CERTIFICATE, LOT | {"density": "85"}, "density", "between"),
    (BY_CERTIFICATE, LOT | {"u": "-1"}, "u", "missing"),
    (BY_CERTIFICATE, LOT | {"u": "80"}, "u", "between"),
    (BY_CERTIFICATE, LOT | {"until": "next year"}, "until", "no day"),
    (BY_CERTIFICATE, LOT | {"until": "2020-01-31"}, "until", "expired"),
    (BY_CERTIFICATE, LOT | {"lot": next(iter(demo.LOT_OF.values()))}, "lot", "on record"),
    (BY_CERTIFICATE, {"density": "0.85", "lot": "\x07"}, "lot", "printed"),
    ("receive_hydrometer", LOT | {"at": "900", "u_at": "0.1"}, "at", "between"),
    ("receive_material", {"sort": "kit", "number": "\x07"}, "number", "printed"),
    ("receive_material", {"nominal": "half"}, "nominal", "half"),
    ("open", {"serial": "x" * 90}, "serial", "longer"),
    ("open", {"serial": GOOD_SERIAL, "lot": "no such"}, "specification", "no family"),
    ("open", {"serial": GOOD_SERIAL, "since": "yesterday"}, "since", "yesterday"),
    ("open", {"serial": GOOD_SERIAL, "specification": "mr-46-front", "lot": "?"}, "lot", "oil lot"),
    ("note_air", {"air": "7o"}, "air", "7o"),
    ("note_air", {"air": "150"}, "air", "between"),
    ("note_air", {"barometer": "1013 mm"}, "barometer", "mm"),
    ("note_air", {"humidity": "40", "humidity_u": "x"}, "humidity_u", "x"),
    ("place_order", {"order": "A-1", "due": "soon", "count": "1"}, "due", "soon"),
    ("place_order", {"order": "A-1", "serial1": "x" * 90, "count": "1"}, "serial1", "longer"),
    (
        "change_settings",
        {"group": "people at the bench", "sign_out_after_s": "soon"},
        "sign_out_after_s",
        "soon",
    ),
    ("sign_day_line", {"line": "bottle", "bottle": "900 bar"}, "bottle", "cannot be"),
    ("sign_day_line", {"line": "bottle", "bottle": "full"}, "bottle", "full"),
    ("begin_study", {"instrument": "scale-1", "times": "some"}, "times", "number of times"),
    ("enrol", {"name": "\x07"}, "name", "printed"),
]


@pytest.mark.parametrize(("action", "form", "field", "words"), CASES)
def test_what_is_wrong_is_told_at_its_field_and_the_taking_refuses_it(
    bench, action, form, field, words
):
    bench.sign_in(demo.LEAD)
    before = len(bench.store.entries())
    found = wrong_fields(bench.session, action, form)
    assert words in found[field]
    if action == "note_air":
        return
    with pytest.raises(StationError) as refused:
        bench.session.act(action, {**form, **demo.SIGNED})
    assert refused.value.what
    assert len(bench.store.entries()) == before


def test_what_is_in_order_is_not_told(bench):
    bench.sign_in(demo.LEAD)
    assert wrong_fields(bench.session, BY_CERTIFICATE, LOT) == {}
    bench.session.act(BY_CERTIFICATE, LOT)
    assert "on record" in wrong_fields(bench.session, BY_CERTIFICATE, LOT)["lot"]


def test_each_figure_is_judged_whatever_stands_in_the_others(bench):
    bench.sign_in(demo.LEAD)
    typed = {"lot": "", "density": "85O", "u": "0.3 bar", "until": "never"}
    found = wrong_fields(bench.session, BY_CERTIFICATE, typed)
    assert {"density", "u", "until"} <= set(found)


@pytest.mark.parametrize(
    ("torque", "words"),
    [("8", ""), ("8.1 Nm", ""), ("20", "allowed"), ("8 mm", "mm"), ("eight", "eight")],
)
def test_a_step_s_figure_is_judged_against_its_limits(bench, torque, words):
    at(bench, "screw")
    found = wrong_fields(bench.session, "sign", {"torque1": torque})
    assert words in found.get("torque1", "")
    assert bool(words) == ("torque1" in found)


def test_judging_signs_keeps_and_counts_nothing(bench):
    at(bench, "screw")
    before, typed = len(bench.store.entries()), dict(bench.session.work.typed)
    for _ in range(3):
        wrong_fields(bench.session, "sign", {"torque1": "8", "torque1_tool": "none"})
        wrong_fields(bench.session, "deviation", {"reason": "x", "signature": "000000"})
    assert len(bench.store.entries()) == before
    assert bench.session.work.typed == typed
    assert not bench.session.signed_in.tries


def test_an_action_that_judges_nothing_finds_nothing(bench):
    assert wrong_fields(bench.session, "zero", {"instrument": "?"}) == {}
    assert wrong_fields(bench.session, "no such", {}) == {}


def test_another_can_is_told_as_soon_as_it_cannot_become_the_right_one(bench):
    bench.sign_in()
    bench.work_to(StepKind.WEIGH, can=False)
    lot = bench.session.rebuild.oil_lot
    for begun in (lot[:1], lot[:-1], lot):
        assert wrong_fields(bench.session, "confirm_lot", {"lot": begun}) == {}
    for other in ("X", f"{lot}9", "MR-9"):
        assert "the can says" in wrong_fields(bench.session, "confirm_lot", {"lot": other})["lot"]
    assert bench.session.rebuild.lots_confirmed == ()
