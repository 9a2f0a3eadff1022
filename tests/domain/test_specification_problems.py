"""What contradicts itself is refused at its field, by one rule, wherever a text comes from."""

import tomllib
from importlib.resources import files

import pytest
import tomlkit

from benchstation.domain.approval import approve, draft
from benchstation.domain.events import SpecificationDrafted
from benchstation.domain.people import Person, Role
from benchstation.domain.specification import (
    SpecificationError,
    judged,
    specification_from,
    specification_from_toml,
)
from benchstation.quantities.formatter import METRIC, QuantityFormatter
from benchstation.quantities.units import UnitSystem

SHIPPED = files("resources") / "demo" / "specifications"
FRONT = (SHIPPED / "mr-46-front.toml").read_text("utf-8")
INCH = QuantityFormatter(UnitSystem.INCH_POUND)
PISTON = 7
"""The step that measures the floating piston's depth."""
LEAD = Person("rob", "Rob", frozenset({Role.LEAD}), "")


def changed(changes, text=FRONT):
    document = tomlkit.parse(text)
    for path, value in changes.items():
        *way, last = (int(p) if p.isdigit() else p for p in path.split("."))
        table = document
        for part in way:
            table = table[part]
        table[last] = value
    return tomlkit.dumps(document)


def problems(text, words=METRIC):
    _, found = judged(tomllib.loads(text), words)
    with pytest.raises(SpecificationError) as caught:
        specification_from_toml(text)
    assert [p.field for p in caught.value.problems] == [p.field for p in found]
    return found


OTHER_BODY = {"geometry.internal_length": "288 mm", "oil.volume": "300 mL"}
"""Sizes and fill from which the floating piston stands 232.8 mm below the mouth."""


def test_a_piston_depth_that_the_geometry_contradicts_is_refused_at_its_field():
    (found,) = problems(changed(OTHER_BODY))
    assert found.field == f"steps.{PISTON}.measure.nominal"
    assert "says 209.50 mm; sizes and fill give 232.8" in found.words
    assert "Write 232.8" in found.advice
    right = changed({**OTHER_BODY, f"steps.{PISTON}.measure.nominal": "232.8 mm"})
    made = specification_from_toml(right)
    assert made.follows().piston_depth_m == pytest.approx(0.2328, abs=1e-4)


@pytest.mark.parametrize(
    "changes",
    [
        {"geometry.guide_depth": "47 mm"},
        {"geometry.hardware_volume": "58 mL", "oil.volume": "256 mL"},
        {f"steps.{PISTON}.measure.tolerance": "40 mm", "oil.volume": "270 mL"},
        {f"steps.{PISTON}.measure.label": "Depth of the FLOATING PISTON", "oil.volume": "270 mL"},
        {f"steps.{PISTON}.measure.label": "Depth", "oil.volume": "270 mL"},
        {
            f"steps.{PISTON}.measure.about": "floating piston depth",
            f"steps.{PISTON}.measure.label": "Trennkolben",
            f"steps.{PISTON}.title": "Kolben",
            "oil.volume": "270 mL",
        },
        {f"steps.{PISTON}.measure.about": "gas length"},
    ],
)
def test_whatever_moves_the_piston_is_seen(changes):
    (found,) = problems(changed(changes))
    assert found.field == f"steps.{PISTON}.measure.nominal"


@pytest.mark.parametrize(
    "changes",
    [
        {"oil.volume": "263 mL"},
        # Both leave the oil's column, and so its face, where it was.
        {"geometry.floating_piston": "12 mm"},
        {"geometry.gas_recess": "8 mL"},
        {f"steps.{PISTON}.measure.nominal": "8.265 in"},
        {f"steps.{PISTON}.measure.about": "own", f"steps.{PISTON}.measure.nominal": "12 mm"},
        {
            f"steps.{PISTON}.measure.label": "Height of the lip",
            f"steps.{PISTON}.measure.nominal": "2.4 mm",
        },
        {
            f"steps.{PISTON}.measure.about": "gas length",
            f"steps.{PISTON}.measure.nominal": "61 mm",
        },
    ],
)
def test_what_agrees_or_is_of_something_else_passes(changes):
    assert specification_from_toml(changed(changes)).id == "mr-46-front"


def test_it_is_seen_among_the_inputs_of_any_step_too():
    document = tomlkit.parse(FRONT)
    document["steps"][2]["inputs"].append(
        {"type": "quantity", "label": "Floating piston depth", "nominal": 0.18, "tolerance": 0.001}
    )
    (found,) = problems(tomlkit.dumps(document))
    assert found.field == "steps.2.inputs.1.nominal"


def test_a_push_force_that_the_charge_contradicts_is_refused():
    """15 bar gauge on a 14 mm rod are 230.9 N."""
    push = next(n for n, s in enumerate(tomllib.loads(FRONT)["steps"]) if s["id"] == "push")
    stated = {"label": "Push force", "dimension": "force", "tolerance": "10 N"}
    wrong = changed({f"steps.{push}.measure": {**stated, "nominal": "300 N"}})
    (found,) = problems(wrong)
    assert found.field == f"steps.{push}.measure.nominal"
    assert "sizes and charge give 231 N" in found.words
    right = changed({f"steps.{push}.measure": {**stated, "nominal": "228 N"}})
    assert specification_from_toml(right).follows().push_force_n == pytest.approx(230.9, abs=0.1)


def test_values_are_told_in_the_units_that_are_shown():
    (found,) = problems(changed(OTHER_BODY), INCH)
    assert "says 8.248 in; sizes and fill give 9.1" in found.words


def test_a_window_without_any_fill_says_so():
    found = problems(changed({"limits.piston_room": "60 mm", "limits.piston_clearance": "60 mm"}))
    assert [p.field for p in found] == ["oil.volume"]
    assert found[0].words.startswith("No fill fits: ")
    assert "window of" not in found[0].words
    outside = problems(changed({"oil.volume": "292 mL"}), INCH)
    assert "8.38 fl oz to 9.82 fl oz" in outside[0].words


@pytest.mark.parametrize(
    ("changes", "field", "said"),
    [
        ({"geometry.floating_piston": "300 mm"}, "geometry.floating_piston", "115 mm"),
        ({"geometry.bore": "4.6 m"}, "geometry.bore", "between 5 and 300 mm"),
        ({"geometry.stroke": "46 bar"}, "geometry.stroke", "not a length"),
        ({"oil.volume": "-3 mL"}, "oil.volume", "greater than 0"),
        ({"gas.colour": "red"}, "gas.colour", "not known here"),
        ({f"steps.{PISTON}.measure.nominal": "2 bar"}, f"steps.{PISTON}.measure", "not a length"),
        ({"steps.2.inputs.0.label": ""}, "steps.2.inputs.0.label", "empty"),
    ],
)
def test_each_is_named_at_its_field(changes, field, said):
    (found,) = problems(changed(changes))
    assert found.field == field
    assert said in found.words


def test_draft_and_approval_ask_the_same():
    wrong = changed(OTHER_BODY)
    with pytest.raises(SpecificationError, match="sizes and fill give"):
        draft(wrong, LEAD, {})
    drafted = SpecificationDrafted("mr-46-front", 1, wrong, "")
    with pytest.raises(SpecificationError, match="sizes and fill give"):
        approve(drafted, "ann", LEAD)


def test_what_is_on_record_already_stays_readable():
    content = tomllib.loads(changed(OTHER_BODY))
    assert specification_from(content).follows().piston_depth_m == pytest.approx(0.2328, abs=1e-4)


@pytest.mark.parametrize("file", [f for f in SHIPPED.iterdir() if f.name.endswith(".toml")])
def test_the_shipped_ones_agree_with_themselves(file):
    assert specification_from_toml(file.read_text("utf-8")).problems() == ()
