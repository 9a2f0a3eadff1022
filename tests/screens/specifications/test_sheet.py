"""The whole as a form shows it: every field of the models, as it stands in the text."""

import tomllib
from importlib.resources import files

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.domain.example_marks import marked, still_example
from benchstation.domain.specification import Specification, judged, specification_from_toml
from benchstation.domain.specification_edit import at, way_of, with_entry, with_value
from benchstation.quantities.formatter import METRIC, QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.specifications import SheetKind, written
from benchstation.screens.specifications.changes import changes
from benchstation.screens.specifications.detail import beside
from benchstation.screens.specifications.figures import FIGURES, INPUTS, LISTED, TABLES
from benchstation.screens.specifications.new_entries import DISC, input_entries, step_entries
from benchstation.screens.specifications.sheet import Judged, by_field, sheet

SHIPPED = {
    file.name: file.read_text("utf-8")
    for file in (files("resources") / "demo" / "specifications").iterdir()
    if file.name.endswith(".toml")
}
FRONT = SHIPPED["mr-46-front.toml"]
INCH = QuantityFormatter(UnitSystem.INCH_POUND)
OWN_TABLES = {"geometry", "oil", "gas", "limits", "steadiness", "matching", "stacks", "service"}


def parts_of(text, words=METRIC):
    content = tomllib.loads(text)
    s, problems = judged(content, words)
    follows, said = (s.follows(), beside(s, words)) if s else (None, {})
    known = Judged(words, by_field(problems), follows, said, still_example(content))
    return sheet(content, known)


def fields_of(text, words=METRIC):
    return {field.field: field for part in parts_of(text, words) for field in part.all_fields()}


def test_every_field_of_every_model_is_described():
    for model, figures in FIGURES.items():
        named = {figure.name for figure in figures} | set(LISTED.get(model, ()))
        left = set(model.model_fields) - named - OWN_TABLES - set(TABLES) - {"kind", "type"}
        assert left == set(), f"{model.__name__}: nobody describes {sorted(left)}"
        for figure in figures:
            assert figure.label
            assert figure.says


def leaves(content, field=""):
    if isinstance(content, dict):
        parts = content.items()
    elif isinstance(content, list):
        parts = enumerate(content)
    else:
        return [field]
    return [x for k, v in parts for x in leaves(v, f"{field}.{k}" if field else k)]


@pytest.mark.parametrize("text", SHIPPED.values(), ids=SHIPPED)
def test_nothing_of_a_text_is_missing_and_all_stands_as_written(text):
    content, fields = tomllib.loads(text), fields_of(text)
    written = [leaf for leaf in leaves(content) if leaf.rpartition(".")[2] not in ("kind", "type")]
    assert set(written) <= set(fields)
    for leaf in written:
        value = at(content, way_of(leaf))
        if isinstance(value, str):
            assert fields[leaf].value == value


def test_a_figure_says_its_unit_what_it_is_and_what_holds_without_it():
    fields = fields_of(FRONT)
    bore = fields["geometry.bore"]
    assert (bore.label, bore.value, bore.unit, bore.shown) == ("Bore", "46 mm", "mm", "46.00 mm")
    assert bore.mark == "bore"
    assert fields["geometry.internal_length"].says.startswith("from the closed gas end to the")
    assert fields["geometry.gas_recess"].usual == "0.0 mL"
    assert fields["geometry.gas_recess"].left_out
    assert not bore.left_out
    assert fields_of(FRONT, INCH)["geometry.bore"].shown == "1.811 in"
    assert fields_of(FRONT, INCH)["geometry.bore"].value == "46 mm", "the author's own words"


def test_a_bare_number_in_the_text_is_si():
    text = FRONT.replace('bore = "46 mm"', "bore = 0.046")
    assert fields_of(text)["geometry.bore"].value == "46.00 mm"


TYPED = st.one_of(
    st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=12),
    st.sampled_from(["12", "0,5", "1.5 in", "8.1 Nm", "", "20 °C", "-3", "yes"]),
)


@given(st.sampled_from(sorted(SHIPPED)), st.data())
@settings(max_examples=25, deadline=None)
def test_what_is_typed_into_the_form_is_what_the_form_says_then(name, data):
    """Form to text to form: the value, and all that stood beside it."""
    text = SHIPPED[name]
    before = fields_of(text)
    plain = [f for f, one in before.items() if one.kind not in (SheetKind.CHECK, SheetKind.CHOICE)]
    field = data.draw(st.sampled_from(plain))
    value = written(before[field], data.draw(TYPED))
    after = fields_of(with_value(text, field, value))
    assert after[field].value == ("" if value is None else str(value))
    if not field.endswith((".id", ".number", ".label", ".dimension")):
        assert list(after) == list(before)
    assert {f: one.value for f, one in after.items() if f != field} == {
        f: one.value for f, one in before.items() if f != field
    }


def test_what_follows_stands_beside_fill_and_charge():
    fields = fields_of(FRONT)
    assert fields["oil.volume"].follows == (
        "247.8 mL to 290.5 mL fit; floating piston 209.93 mm below the mouth, gas length 61.07 mm"
    )
    assert fields["gas.gauge_pressure"].follows == "push force 231 N, rod out"
    none = FRONT.replace('piston_room = "8 mm"', 'piston_room = "60 mm"')
    none = none.replace('piston_clearance = "5 mm"', 'piston_clearance = "60 mm"')
    volume = fields_of(none)["oil.volume"]
    assert volume.follows.startswith("no fill fits; ")
    assert volume.problem.startswith("No fill fits: ")


def test_what_follows_stands_beside_and_a_contradiction_at_its_field():
    fields = fields_of(FRONT.replace('"262 mL"', '"270 mL"'))
    depth = fields["steps.7.measure.nominal"]
    assert depth.follows == "sizes and fill give 214.75 mm"
    assert depth.take == "214.75 mm"
    assert "sizes and fill give 214.75 mm" in depth.problem
    assert specification_from_toml(
        with_value(FRONT.replace('"262 mL"', '"270 mL"'), depth.field, depth.take)
    )


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("geometry.bore", "46 m", "must be between"),
        ("geometry.bore", "46 b", "not a length"),
        ("geometry.bore", "", "Nothing is entered"),
        ("oil.volume", "292 mL", "fill window"),
        ("gas.high_warning", "15.1 bar", "must lie above the charge"),
        ("gas.reference_temperature", "21 degC", "same reference temperature"),
        ("steps.7.measure.tolerance", "0 mm", "above zero"),
        ("steps.0.confirmations.0", "", ""),
    ],
)
def test_half_a_value_stands_as_typed_with_what_is_wrong(field, typed, said):
    text = with_value(FRONT, field, typed)
    parts = parts_of(text)
    assert fields_of(text)[field].value == typed
    wrong = [words for part in parts for words in part.problems()]
    assert any(said in words for words in wrong) if said else True
    if said and "measure" not in field:
        assert said in fields_of(text)[field].problem


@pytest.mark.parametrize(
    ("before", "after", "part", "said"),
    [
        ("[oil]", '[oil]\ncolour = "red"', "Oil", "oil.colour: is not known here"),
        ("[oil]", 'colour = "red"\n[oil]', "Sizes", "geometry.colour: is not known here"),
        ("[limits]", "[gas.service]\nloss = 3\n[limits]", "Gas", "gas.service.loss"),
        ('id = "mr', 'colour = "red"\nid = "mr', "Name", "colour: is not known here"),
        ('id = "rod"', 'id = "rod"\ncolour = 1', "Route", "colour: is not known here"),
    ],
)
def test_what_has_no_field_is_told_at_its_part(before, after, part, said):
    """Nothing is wrong without a place to see it."""
    text = FRONT.replace(before, after, 1)
    wrong = {one.title: " ".join(one.problems()) for one in parts_of(text) if one.problems()}
    assert said in wrong[part]


def test_every_new_entry_is_in_order():
    steps = tomllib.loads(FRONT)["steps"]
    for name, entry in step_entries(steps):
        place = len(steps) - 1
        made = specification_from_toml(with_entry(FRONT, "steps", place, entry))
        assert made.steps[place].id == entry["id"], name
    for _, entry in input_entries():
        made = specification_from_toml(with_entry(FRONT, "steps.0.inputs", 0, entry))
        assert made.steps[0].inputs[0].type == entry["type"]
    assert {entry["type"] for _, entry in input_entries()} <= set(INPUTS)
    _, disc = DISC
    assert specification_from_toml(with_entry(FRONT, "stacks.rebound", 2, disc))


def test_a_route_offers_once_only_what_it_has_not():
    steps = tomllib.loads(FRONT)["steps"]
    offered = {entry["kind"] for _, entry in step_entries(steps)}
    assert "charge" not in offered
    left = [step for step in steps if step["kind"] != "charge"]
    assert "charge" in {entry["kind"] for _, entry in step_entries(left)}
    ids = [entry["id"] for _, entry in step_entries([*steps, {"id": "check", "kind": "confirm"}])]
    assert "check_2" in ids


def test_what_is_still_the_examples_is_marked_at_its_field():
    text = marked(FRONT)
    fields = fields_of(text)
    assert fields["geometry.bore"].example == "geometry.bore"
    assert fields["steps.5.parts.1.number"].example == "steps.parts.parts.WP-14.number"
    changed = fields_of(with_value(text, "geometry.bore", "47 mm"))
    assert changed["geometry.bore"].example == ""
    (stacks,) = (part for part in parts_of(text) if part.title == "Stacks")
    assert [one.example for one in stacks.lists] == ["stacks.compression", "stacks.rebound"]
    assert {f.kind for f in fields.values()} == set(SheetKind)


def told(before, after, words=METRIC):
    return changes(parts_of(before, words), parts_of(after, words))


def test_changes_are_told_by_name_and_in_the_units_shown():
    assert told(FRONT, FRONT) == ()
    assert told(FRONT, FRONT.replace('"46 mm"', '"4.6 cm"')) == ()
    (only,) = told(FRONT, FRONT.replace('"8 N*m"', '"8.2 N*m"'), INCH)
    assert only == ("Route, Bleed screw, Torque: Torque", "70.8 lbf in", "72.6 lbf in")
    (fine,) = told(FRONT, FRONT.replace('"262 mL"', '"262.01 mL"'))
    assert fine[1] != fine[2]


def test_steps_that_came_went_or_moved_are_one_change_each():
    content = tomllib.loads(FRONT)
    _, entry = step_entries(content["steps"])[0]
    (came,) = told(FRONT, with_entry(FRONT, "steps", 3, entry))
    assert came == ("Route, Check", "\N{EN DASH}", "stands here")
    swapped = FRONT.replace('id = "function"', 'id = "x"').replace('id = "push"', 'id = "function"')
    assert any("order" in name for name, _, _ in told(FRONT, swapped.replace('"x"', '"push"')))
    (part,) = told(FRONT, FRONT.replace("count = 1, lot = false", "count = 2, lot = false"))
    assert part == ("Route, Parts, Parts: Count", "1", "2")


def test_the_stored_form_of_a_revision_is_the_same_as_its_text():
    s = specification_from_toml(FRONT)
    assert isinstance(s, Specification)
    stored = sheet(s.content(), Judged(METRIC))
    assert changes(stored, parts_of(FRONT)) == ()
