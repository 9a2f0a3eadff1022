"""Every kind of input has all of its five: model, result, form, words and the author's sheet."""

import dataclasses
import typing

from benchstation.domain.inputs.confirmation import Confirmation
from benchstation.domain.inputs.given import Given
from benchstation.domain.inputs.line import TextLine
from benchstation.domain.inputs.registry import FormInput, Input, Result, named
from benchstation.reports.evidence_words import WORDS
from benchstation.screens.bench.input_forms import FORMS
from benchstation.screens.specifications.figures import FIGURES
from benchstation.screens.specifications.figures import INPUTS as SHEETS

FORM_INPUTS, INPUTS, RESULTS = (typing.get_args(union) for union in (FormInput, Input, Result))


def type_of(model):
    return model.model_fields["type"].default


def test_each_has_a_type_of_its_own_and_its_result_has_the_same():
    types = [type_of(model) for model in INPUTS]
    assert len(set(types)) == len(types)
    results = {typing.get_args(typing.get_type_hints(result)["type"])[0] for result in RESULTS}
    assert results == {*types, "said"}


def test_each_that_a_form_asks_for_has_its_form():
    assert set(FORMS) == set(FORM_INPUTS)


def test_each_can_be_written_with_the_authors_form():
    assert {kind: model for kind, (model, _) in SHEETS.items()} == {
        type_of(model): model for model in FORM_INPUTS
    }
    assert set(FORM_INPUTS) <= set(FIGURES)


def test_each_result_has_its_words():
    assert set(WORDS) == set(RESULTS)


def test_each_check_gives_a_result_of_its_own_type():
    for model in FORM_INPUTS:
        back = typing.get_type_hints(model.check)["return"]
        (result,) = (kind for kind in typing.get_args(back) or (back,) if kind is not type(None))
        assert typing.get_args(typing.get_type_hints(result)["type"]) == (type_of(model),)


def test_each_result_names_its_input_and_carries_the_label_as_a_value():
    for result in RESULTS:
        assert {"input", "label", "type"} <= {field.name for field in dataclasses.fields(result)}


def test_names_are_counted_by_noun_and_no_label_is_in_them():
    inputs = [
        Confirmation(label="note1"), TextLine(label="x"), Confirmation(label="value1"),
        TextLine(label="confirm1"),
    ]  # fmt: skip
    assert [one.name for one in named(inputs)] == ["confirm1", "note1", "confirm2", "note2"]
    given = Given("Step", {"confirm1": "yes", "note1": "a", "confirm2": "yes", "note2": "b"})
    found = [one.input.check(one.name, given) for one in named(inputs)]
    assert [(r.input, r.label) for r in found] == [
        ("confirm1", "note1"), ("note1", "x"), ("confirm2", "value1"), ("note2", "confirm1"),
    ]  # fmt: skip
