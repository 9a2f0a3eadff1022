"""A step that takes several inputs of several kinds, as its author writes them in one list."""

import tomllib
from importlib.resources import files

import pytest

from benchstation.demo.picture import demo_png
from benchstation.domain import photos
from benchstation.domain.events import DeviationSigned, RebuildOpened, StepSigned
from benchstation.domain.rebuild import apply, fold
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import sign_step
from benchstation.domain.specification import (
    SpecificationError,
    Step,
    specification_from,
    specification_from_toml,
)
from benchstation.domain.specification_text import as_toml
from benchstation.quantities.formatter import METRIC, QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports.evidence_words import evidence_in_words

HEIGHT = {"type": "quantity", "label": "Height", "nominal": "2.4 mm", "tolerance": "0.1 mm"}
PART = {"type": "part", "number": "S-1"}
PHOTOS = {"type": "photos", "label": "Seat"}


@pytest.fixture
def content():
    path = files("resources") / "demo" / "specifications" / "carrier-50.toml"
    return tomllib.loads(path.read_text("utf-8"))


def seat(content):
    return next(step for step in content["steps"] if step["id"] == "seat")


@pytest.fixture
def at_seat(content, fact):
    """Return a unit at the step with a photograph and a height, with more events before it."""

    def state(*events):
        spec = specification_from(content)
        opened = RebuildOpened("u1", "CR-1", spec.family, spec.id, spec.revision, "L-0432")
        steps = [step.id for step in spec.steps]
        signed = [StepSigned("u1", name) for name in steps[: steps.index("seat")]]
        return fold(map(fact, (opened, *signed, *events)), spec)

    return state


def with_photo(state, fact):
    photo = photos.photo_of(demo_png(3), "seat.png")
    for event in photos.take_photo(state, photo, "lip"):
        state = apply(state, fact(event))
    return state


def test_a_photograph_and_a_height_are_signed_in_one(at_seat, fact):
    state = with_photo(at_seat(), fact)
    (event,) = sign_step(state, {"value1": "2.43", "confirm1": "yes"})
    assert [(r.type, r.input) for r in event.evidence] == [
        ("photos", "photos1"),
        ("quantity", "value1"),
        ("confirm", "confirm1"),
    ]
    assert event.evidence[1].value == pytest.approx(0.00243)
    assert evidence_in_words(event.evidence, METRIC) == (
        "Valve seat from above: 1 photograph: lip; "
        "Height of the lip: 2.43 mm, specified 2.40 ± 0.10 mm"
    )
    inches = evidence_in_words(event.evidence, QuantityFormatter(UnitSystem.INCH_POUND))
    assert "Height of the lip: 0.1" in inches
    assert " in" in inches
    assert apply(state, fact(event)).current.id == "piston"


def test_each_input_can_refuse_the_step(at_seat, fact):
    typed = {"value1": "2.43", "confirm1": "yes"}
    with pytest.raises(NotAllowedError, match="0 of 1 photographs"):
        sign_step(at_seat(), typed)
    state = with_photo(at_seat(), fact)
    with pytest.raises(NotAllowedError, match=r"Height of the lip is 2\.60 mm, allowed 2\.30 to"):
        sign_step(state, {**typed, "value1": "2.6"})
    with pytest.raises(NotAllowedError, match="still to do: Seat clean"):
        sign_step(state, {"value1": "2.43"})


def test_one_deviation_accepts_what_is_outside_and_says_which(at_seat, fact):
    state = with_photo(at_seat(DeviationSigned("u1", "seat", "valve seat", "worn")), fact)
    (event,) = sign_step(state, {"value1": "2.6", "confirm1": "yes"})
    said = evidence_in_words(event.evidence, METRIC)
    assert "2.60 mm, specified 2.40 ± 0.10 mm, accepted as a deviation" in said
    assert "photograph: lip;" in said


def test_every_type_an_author_may_write_is_stored_and_read_back(content):
    inputs = [
        {"type": "confirm", "label": "clean"},
        {"type": "line", "label": "Gauge used", "required": True, "hint": "its number"},
        {"type": "text", "label": "Remarks"},
        HEIGHT,
        {**HEIGHT, "label": "Depth", "nominal": "12 mm"},
        {"type": "torque", "label": "Screw", "nominal": "8 N*m", "tolerance": "0.5 N*m"},
        {
            "type": "choice",
            "label": "Wear",
            "options": [{"id": "none", "text": "none"}, {"id": "some", "text": "x", "hold": "qa"}],
        },
        {"type": "part", "number": "S-1", "name": "Seal"},
        PHOTOS,
        {"type": "zero"},
    ]
    seat(content)["inputs"] = inputs
    specification = specification_from(content)
    stored = specification.content()
    assert specification_from(stored) == specification
    assert specification_from_toml(as_toml(specification)).sha256() == specification.sha256()
    kept = next(step for step in stored["steps"] if step["id"] == "seat")["inputs"]
    assert [one["type"] for one in kept] == [one["type"] for one in inputs]
    assert [asked.name for asked in specification.step("seat").asked] == [
        "confirm1", "note1", "text1", "value1", "value2", "torque1", "choice1", "lot1", "photos1",
        "zero1",
    ]  # fmt: skip


def test_inputs_stand_beside_a_table_too(content):
    step = next(s for s in content["steps"] if s["id"] == "screw")
    step["inputs"] = [{"type": "photos", "label": "Screw with its seal"}]
    step["confirmations"] = ["Seal is new"]
    asked = specification_from(content).step("screw").asked
    assert [one.name for one in asked] == ["torque1", "photos1", "confirm1"]


def test_the_stored_content_of_a_step_without_inputs_is_as_it_was(spec):
    for step in spec.content()["steps"]:
        assert ("inputs" in step) is (step["id"] == "strip"), "which alone has some"
    measure = next(s for s in spec.content()["steps"] if s["id"] == "piston")["measure"]
    assert set(measure) == {"label", "nominal", "tolerance"}


@pytest.mark.parametrize(
    ("inputs", "word"),
    [
        ([], "step 'seat': its list of inputs is empty"),
        ([{"label": "no type"}], "inputs, entry 1: needs 'type'"),
        ([{"type": "stamp", "label": "x"}], "not known here, 'stamp': 'confirm', 'line'"),
        ([{"type": "oil", "stage": "net"}], "entry 1: has a 'type' that is not known here, 'oil'"),
        ([{**HEIGHT, "nominal": "2 bar"}], "is not a length"),
        ([{**HEIGHT, "more": 1}], "more: is not known here"),
        ([{"type": "confirm", "label": "  "}], "a label of its inputs is empty or too long"),
        ([{**HEIGHT, "label": "x" * 201}], "a label of its inputs is empty or too long"),
        ([PHOTOS, {**PHOTOS, "label": "again"}], "photographs are specified twice"),
        (
            [
                {"type": "quantity", "label": "p", "dimension": "pressure", "source": "gauge"},
                {"type": "quantity", "label": "m", "dimension": "mass", "source": "scale"},
            ],
            "one reading of an instrument",
        ),
        ([{"type": "stack", "record": "as built"}], r"\[stacks\] is missing"),
        (
            [{**PART, "name": "a"}, {**PART, "name": "b"}],
            "two parts have the same number",
        ),
        (
            [
                {
                    "type": "quantity", "label": "F", "dimension": "force", "tolerance": "9 N",
                    "reference": "push force",
                }
            ],
            "known after the charge only",
        ),
    ],
)  # fmt: skip
def test_a_list_that_cannot_be_worked_is_refused_in_words(content, inputs, word):
    seat(content)["inputs"] = inputs
    with pytest.raises(SpecificationError, match=word):
        specification_from(content)


def test_after_the_charge_no_zero_of_the_unit_is_asked_for(content):
    step = next(s for s in content["steps"] if s["id"] == "function")
    step["inputs"] = [{"type": "zero"}]
    with pytest.raises(SpecificationError, match="after the charge a unit shows no zero"):
        specification_from(content)
    step["inputs"] = [{"type": "zero", "place": "fill line"}]
    assert specification_from(content).step("function").asked[0].name == "zero1"


@pytest.mark.parametrize("kind", ["weigh", "bleed", "charge", "file"])
def test_what_is_signed_by_its_capture_takes_no_inputs(kind):
    step = {"id": "x", "kind": kind, "title": "X", "instruction": "Do it.", "inputs": [PHOTOS]}
    with pytest.raises(ValueError, match=f"a {kind} step takes no"):
        Step.model_validate(step)


def test_a_hold_point_of_inputs_must_ask_for_evidence():
    step = {"id": "x", "kind": "inputs", "title": "X", "instruction": "Do it.", "hold_point": True}
    idle = [{"type": "text", "label": "Remarks"}, {**PHOTOS, "least": 0}]
    with pytest.raises(ValueError, match="a hold point must ask for evidence"):
        Step.model_validate({**step, "inputs": idle})
    assert Step.model_validate({**step, "inputs": [*idle, HEIGHT]}).hold_point
