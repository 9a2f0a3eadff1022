"""A kit that is chosen or scanned: refused where it is not on record or may not be used."""

import pytest

from benchstation.domain.inputs.given import Given, StillToDoError
from benchstation.domain.inputs.material import MaterialInput, MaterialTaken
from benchstation.domain.materials import Sort, Standing, Supplied
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import specification_from_toml
from tests.domain.conftest import DAY

KIT = MaterialInput(label="Seal kit", sort="kit", number="SK-46")


def given(stock, text, *, accepted=False):
    return Given("Strip", {"material1": text}, accepted=accepted, stock=stock, today=DAY)


def test_what_is_on_record_is_taken_with_its_supplier(stock):
    assert KIT.check("material1", given(stock, " k-88 ")) == MaterialTaken(
        "material1", "Seal kit", Sort.KIT, "SK-46", "k-88", Supplied("Supplier A", "")
    )


def test_a_lot_of_another_kit_is_not_this_one(stock):
    other = MaterialInput(label="Seal kit", sort="kit", number="SK-50")
    with pytest.raises(NotAllowedError, match="lot K-88 of SK-50 is not on record") as refused:
        other.check("material1", given(stock, "K-88"))
    assert refused.value.field == "material1"
    taken = other.check("material1", given(stock, "K-88", accepted=True))
    assert taken.supplied.standing is Standing.UNKNOWN


def test_without_a_number_any_kit_on_record_will_do(stock):
    any_kit = MaterialInput(label="Seal kit")
    assert any_kit.check("material1", given(stock, "K-88")).supplied.standing is Standing.OPEN
    with pytest.raises(NotAllowedError, match="not on record"):
        any_kit.check("material1", given(stock, "q"))


def test_nothing_is_a_step_still_to_do_unless_it_may_stay_empty(stock):
    with pytest.raises(StillToDoError, match="Seal kit"):
        KIT.check("material1", given(stock, " "))
    optional = MaterialInput(label="Seal kit", required=False)
    assert optional.check("material1", given(stock, "")) is None


def test_an_author_writes_it_among_the_inputs_of_a_step(spec):
    strip = next(step for step in spec.steps if step.id == "strip")
    assert strip.asked[0].input == KIT
    again = specification_from_toml(_toml_of("sledge-36"))
    assert again.content()["steps"]


def _toml_of(name):
    from importlib.resources import files

    return (files("resources") / "demo" / "specifications" / f"{name}.toml").read_text("utf-8")
