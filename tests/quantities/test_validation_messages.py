"""What does not fit is said by place and in words; the model's own phrases reach nobody."""

from typing import Annotated, Literal

import pytest
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from benchstation.quantities.validation_messages import first_place, in_words


class Limits(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    least: Annotated[float, Field(gt=0)] = 1.0
    count: int = Field(default=3, ge=3, le=9)
    name: str = Field(default="a", min_length=1, max_length=4, pattern="^[a-z]*$")
    kind: Literal["mass", "pressure"] = "mass"
    on: bool = True


class File(BaseModel):
    steps: tuple[Limits, ...] = Field(default=(), min_length=0)
    rows: tuple[tuple[float, ...], ...] = ()
    people: dict[str, Limits] = {}
    shop: str

    @model_validator(mode="after")
    def _named(self):
        if self.shop == "none":
            raise ValueError("the shop needs a name.")
        return self


def said(**content):
    with pytest.raises(ValidationError) as caught:
        File.model_validate({"shop": "x", **content})
    return in_words(caught.value)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"least": 0}, "least: must be greater than 0"),
        ({"least": "much"}, "least: must be a number"),
        ({"least": float("inf")}, "least: must be a number"),
        ({"count": 2}, "count: must be at least 3"),
        ({"count": 10}, "count: must be at most 9"),
        ({"count": 3.5}, "count: must be a whole number"),
        ({"name": ""}, "name: must not be empty"),
        ({"name": "abcde"}, "name: is longer than 4 characters"),
        ({"name": 7}, "name: must be text in quotes"),
        ({"kind": "force"}, "kind: must be 'mass' or 'pressure'"),
        ({"more": 1}, "more: is not known here"),
    ],
)
def test_each_problem_is_said_in_words(wrong, words):
    assert said(people={"ines": wrong}) == f"people.ines.{words}"


def test_entries_of_a_list_are_counted_from_one():
    assert said(steps=[{}, {"least": -1}]) == "steps, entry 2, least: must be greater than 0"


def test_a_list_in_a_list_is_counted_twice():
    assert said(rows=[[1.0], [1.0, "x"]]) == "rows, entry 2, entry 2: must be a number"


def test_a_field_that_is_missing_is_named():
    with pytest.raises(ValidationError) as caught:
        File.model_validate({})
    assert in_words(caught.value) == "shop: is missing"


def test_all_problems_are_said_at_once():
    text = said(steps=[{"least": 0, "count": 1}], people={"ines": []})
    assert text.count("; ") == 2
    assert "people.ines: must be a table of its own" in text


def test_words_of_our_own_are_kept_as_they_are():
    assert said(shop="none") == "the shop needs a name"


def test_what_has_no_words_here_keeps_those_of_the_model():
    class Odd(BaseModel):
        at: complex

    with pytest.raises(ValidationError) as caught:
        Odd.model_validate({"at": "x"})
    assert in_words(caught.value).startswith("at: Input should be a valid")


def test_the_first_place_is_named():
    with pytest.raises(ValidationError) as wrong:
        File.model_validate({"steps": [{"count": 1}, {"least": -1}], "shop": "a"})
    assert first_place(wrong.value) == "steps, entry 1, count"
    with pytest.raises(ValidationError) as wrong:
        File.model_validate({"shop": "none"})
    assert first_place(wrong.value) == ""
