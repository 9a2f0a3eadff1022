import copy
import tomllib
from importlib.resources import files

import pytest

from benchstation.domain.inputs.quantity import Measure, Source
from benchstation.domain.specification import (
    SpecificationError,
    Step,
    specification_from,
    specification_from_toml,
)
from benchstation.domain.specification_text import as_toml
from benchstation.quantities.units import Dimension


@pytest.fixture(scope="module")
def text():
    path = files("resources") / "demo" / "specifications" / "mr-46-rear.toml"
    return path.read_text("utf-8")


@pytest.fixture
def content(text):
    return tomllib.loads(text)


def step(content, step_id):
    return next(step for step in content["steps"] if step["id"] == step_id)


def test_every_kind_of_step_comes_back_from_its_stored_form_and_from_toml(rear):
    assert {s.kind.value for s in rear.steps} == {
        "confirm", "release", "measure", "weigh", "bleed", "charge", "file", "torque", "choose",
        "note", "parts", "stack", "photo",
    }  # fmt: skip
    assert specification_from(rear.content()) == rear
    assert specification_from_toml(as_toml(rear)).sha256() == rear.sha256()


def test_any_unit_is_taken_and_kept_in_si(content, rear):
    assert rear.step("screw").torque.nominal == pytest.approx(8.0)
    assert rear.step("push").measure.tolerance == pytest.approx(40.0)
    step(content, "screw")["torque"]["nominal"] = "71 lbf in"
    content["stacks"]["rebound"][0]["outer"] = "1.5 in"
    other = specification_from(content)
    # 1 lbf in is 0.112 984 8 N m (NIST SP 811, appendix B.8).
    assert other.step("screw").torque.nominal == pytest.approx(71 * 0.1129848)
    assert other.stacks.rebound[0].outer == pytest.approx(0.0381)


@pytest.mark.parametrize(
    ("dimension", "nominal", "tolerance", "si"),
    [
        ("length", "62 mm", "1 mm", (0.062, 0.001)),
        ("pressure", "12 bar", "0.5 bar", (12e5, 0.5e5)),
        ("pressure", "0 bar", "0.1 bar", (0.0, 1e4)),
        ("force", "200 N", "20 N", (200.0, 20.0)),
        ("torque", "8 N*m", "0.5 N*m", (8.0, 0.5)),
        ("mass", "40 g", "0.5 g", (0.04, 0.0005)),
        ("temperature", "20 degC", "3 K", (293.15, 3.0)),
    ],
)
def test_a_measure_knows_its_dimension(dimension, nominal, tolerance, si):
    made = Measure(label="it", dimension=dimension, nominal=nominal, tolerance=tolerance)
    assert (made.nominal, made.tolerance) == pytest.approx(si)
    assert made.of is Dimension(dimension)
    assert Measure.model_validate(made.model_dump(mode="json")) == made


@pytest.mark.parametrize(
    ("more", "word"),
    [
        ({"nominal": "62 mm"}, "belong together"),
        ({"tolerance": "1 mm"}, "belong together"),
        ({"nominal": "62 bar", "tolerance": "1 mm"}, "is not a length"),
        ({"nominal": "62 mm", "tolerance": "0 mm"}, "tolerance must be above zero"),
        ({"nominal": "-1 mm", "tolerance": "1 mm"}, "nominal must be above zero"),
        ({"nominal": float("nan"), "tolerance": "1 mm"}, "nominal must be above zero"),
        ({"dimension": "volume"}, "dimension"),
        ({"source": "gauge"}, "the gauge measures pressure"),
        ({"source": "scale"}, "the scale measures mass"),
        ({"reference": "push force", "tolerance": "1 mm"}, "needs dimension = 'force'"),
        ({"reference": "push force", "dimension": "force"}, "needs a tolerance"),
        (
            {"reference": "push force", "dimension": "force", "nominal": "1 N", "tolerance": "1 N"},
            "leave nominal out",
        ),
        ({"reference": "weight"}, "reference"),
    ],
)
def test_limits_that_make_no_sense_are_refused_in_words(more, word):
    with pytest.raises(ValueError, match=word):
        Measure.model_validate({"label": "it", **more})


def test_a_typed_length_is_stored_as_it_always_was():
    old = {"label": "depth", "nominal": 0.0621, "tolerance": 0.001}
    made = Measure.model_validate(old)
    assert made.model_dump(mode="json") == old
    assert made.source is Source.TYPED


def set_in(content, step_id, **values):
    step(content, step_id).update(values)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        (lambda c: step(c, "screw").pop("torque"), r"a torque step, and only that, needs \[torque"),
        (lambda c: set_in(c, "strip", stack=["as built"]), r"needs \[stack\]"),
        (lambda c: set_in(c, "parts", parts=[]), r"needs \[parts\]"),
        (lambda c: c.pop("stacks"), r"records a disc stack, but \[stacks\] is missing"),
        (lambda c: c["stacks"]["rebound"][0].update(outer="46 mm"), "not narrower than the bore"),
        (lambda c: c["stacks"]["rebound"][0].update(outer="11 mm"), "not wider than the hub"),
        (lambda c: c["stacks"]["rebound"][0].update(count=0), "stacks.rebound, entry 1, count"),
        (lambda c: c["stacks"].update(rebound=[]), "rebound"),
        (lambda c: set_in(c, "stack_built", stack=["as built", "as built"]), "a record twice"),
        (lambda c: set_in(c, "stack_built", stack=["as seen"]), "as built"),
        (lambda c: step(c, "parts")["parts"][1].update(number="RS-14"), "parts have the same num"),
        (lambda c: step(c, "parts")["parts"][1].update(count=0), "parts, entry 2, count"),
        (lambda c: step(c, "rod")["choose"]["options"][1].update(id="bright"), "the same id"),
        (lambda c: step(c, "rod")["choose"].update(options=[]), "choose.options"),
        (
            lambda c: [o.update(hold="deviation") for o in step(c, "rod")["choose"]["options"]],
            "one must be in order",
        ),
        (lambda c: step(c, "pictures")["photos"].update(least=5), "least is more than most"),
        (lambda c: set_in(c, "remarks", hold_point=True), "a hold point must ask for evidence"),
    ],
)
def test_a_step_that_cannot_be_worked_is_refused_in_words(content, change, word):
    change(content)
    with pytest.raises(SpecificationError, match=word):
        specification_from(content)


def test_the_push_force_is_asked_for_after_the_charge(content):
    moved = copy.deepcopy(step(content, "push"))
    content["steps"].remove(step(content, "push"))
    content["steps"].insert(3, moved)
    with pytest.raises(SpecificationError, match="known after the charge only"):
        specification_from(content)


def test_a_hold_point_that_asks_for_nothing_else_has_itself_to_confirm():
    bare = {"id": "look", "kind": "confirm", "title": "Second look", "instruction": "Look."}
    assert Step.model_validate(bare).statements == ()
    assert Step.model_validate({**bare, "hold_point": True}).statements == ("Second look: checked",)
    asks = Step.model_validate({**bare, "hold_point": True, "confirmations": ["seen"]})
    assert asks.statements == ("seen",)


def test_what_a_step_asks_is_made_once_and_a_changed_copy_asks_for_what_it_says():
    bare = {
        "id": "a",
        "kind": "confirm",
        "title": "Look",
        "instruction": "Do.",
        "confirmations": ["seen"],
    }
    one = Step.model_validate(bare)
    assert one.asked is one.asked
    changed = one.model_copy(update={"confirmations": ("seen", "dry")})
    assert [asked.name for asked in changed.asked] == ["confirm1", "confirm2"]
    assert [asked.name for asked in one.asked] == ["confirm1"]
    fresh = Step.model_validate(bare)
    assert one == fresh
    assert one.model_dump() == fresh.model_dump()
