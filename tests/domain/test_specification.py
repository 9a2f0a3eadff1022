import json
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import ClassVar

import pytest

from benchstation.domain.specification import (
    Method,
    SpecificationError,
    StepKind,
    _Part,
    specification_from,
    specification_from_toml,
)


@pytest.fixture
def content():
    path = files("resources") / "demo" / "specifications" / "mr-46-front.toml"
    return tomllib.loads(path.read_text("utf-8"))


def test_any_unit_of_the_dimension_gives_the_same_specification(content, spec):
    content["oil"]["volume"] = "0.262 L"
    content["gas"]["gauge_pressure"] = "1500 kPa"
    content["geometry"]["bore"] = "4.6 cm"
    other = specification_from(content)
    assert other.oil.volume == pytest.approx(spec.oil.volume, rel=1e-12)
    assert other.gas.gauge_pressure == pytest.approx(spec.gas.gauge_pressure, rel=1e-12)
    assert other.geometry.bore == pytest.approx(0.046, rel=1e-12)


def test_the_stored_form_gives_the_same_specification_and_hash(spec):
    again = specification_from(spec.content())
    assert again == spec
    assert again.sha256() == spec.sha256()


def test_the_hash_follows_the_content(content, spec):
    content["oil"]["volume"] = "262.1 mL"
    assert specification_from(content).sha256() != spec.sha256()


@pytest.mark.parametrize(
    ("table", "key", "value", "word"),
    [
        ("oil", "volume", "262 bar", "oil.volume"),
        ("oil", "volume", "-3 mL", "oil.volume"),
        ("oil", "volume", float("nan"), "oil.volume"),
        ("gas", "gauge_pressure", "15 parsecs", "gas.gauge_pressure"),
        ("gas", "high_warning", "15.1 bar", "high_warning"),
        ("gas", "reference_temperature", "21 degC", "same reference temperature"),
        ("geometry", "bore", "", "geometry.bore"),
    ],
)
def test_a_wrong_field_is_named(content, table, key, value, word):
    content[table][key] = value
    with pytest.raises(SpecificationError, match=word):
        specification_from(content)


def test_an_unknown_field_is_refused(content):
    content["oil"]["colour"] = "red"
    with pytest.raises(SpecificationError, match=r"oil\.colour"):
        specification_from(content)


@pytest.mark.parametrize("volume", ["230 mL", "292 mL"])
def test_a_fill_outside_the_physical_window_is_refused_with_the_window(content, volume):
    content["oil"]["volume"] = volume
    with pytest.raises(SpecificationError, match="outside the physical fill window") as caught:
        specification_from(content)
    assert "247.8" in str(caught.value)
    assert "290.5" in str(caught.value)


def test_the_route_must_release_before_it_weighs(content):
    steps = content["steps"]
    release = next(n for n, step in enumerate(steps) if step["kind"] == "release")
    weigh = next(n for n, step in enumerate(steps) if step["kind"] == "weigh")
    steps[release], steps[weigh] = steps[weigh], steps[release]
    with pytest.raises(SpecificationError, match="order must be release"):
        specification_from(content)


def test_a_route_without_a_charge_is_refused(content):
    content["steps"] = [step for step in content["steps"] if step["kind"] != "charge"]
    with pytest.raises(SpecificationError, match="exactly one 'charge'"):
        specification_from(content)


def test_text_that_is_not_toml_says_where():
    with pytest.raises(SpecificationError, match="line 1"):
        specification_from_toml("id = = 3", where="pasted text")


def test_every_named_step_is_found(spec):
    assert spec.step("oil").kind is StepKind.WEIGH
    assert spec.step_of(StepKind.FILE) == spec.steps[-1]


def test_what_was_stored_before_fields_were_added_keeps_its_hash():
    """The stored form and hash were taken from the first form of a specification."""
    stored = json.loads((Path(__file__).parent / "stored_specification.json").read_text("utf-8"))
    hash_then = "18435326f8f0bb2484fd40245fa30666527e197ce704a4a7240c8bccf5df990c"
    assert specification_from(stored).sha256() == hash_then


def test_the_usual_method_is_not_in_the_content_and_another_is(content, spec):
    assert spec.oil.method is Method.GAIN
    assert "method" not in spec.content()["oil"]
    content["oil"]["method"] = "loss"
    other = specification_from(content)
    assert other.content()["oil"]["method"] == "loss"
    assert specification_from(other.content()) == other
    assert other.sha256() != spec.sha256()


def test_a_method_that_is_none_is_refused_by_name(content):
    content["oil"]["method"] = "guess"
    with pytest.raises(SpecificationError, match=r"oil\.method: .*'gain', 'loss' or 'difference'"):
        specification_from(content)


class _Grown(_Part):
    _LATER: ClassVar[frozenset[str]] = frozenset({"later"})

    first: int
    later: tuple[int, ...] = ()


def test_a_later_field_stands_in_the_content_only_when_it_says_something():
    assert _Grown(first=1).model_dump(mode="json") == {"first": 1}
    assert _Grown(first=1, later=(2,)).model_dump(mode="json") == {"first": 1, "later": [2]}
