"""What a form says becomes one typed command, or is refused naming the field."""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import pytest

from benchstation.bench.commands.enrolment import DropBadge, Enrol, Prefer
from benchstation.bench.commands.materials import ReceiveByCertificate, ReceiveByHydrometer
from benchstation.bench.commands.orders import ImportUnits, PlaceOrder
from benchstation.bench.commands.parsing import command_from, named, secret, texts_of
from benchstation.bench.commands.signing import Sign
from benchstation.bench.commands.signing_in import ScanBadge, SignIn
from benchstation.bench.commands.table import COMMANDS
from benchstation.bench.session import Command
from benchstation.domain.orders import Wanted
from benchstation.domain.people import Role
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import UnitSystem, display_unit, from_display

LOT = {"lot": " L-9 ", "oil": "HL 46", "source": "certificate", "density": "0.862", "u": "0.0003"}


def test_a_field_is_read_by_its_type_and_under_the_forms_name():
    assert command_from(SignIn, {"person": " kofler ", "pin": " 1234"}) == SignIn("kofler", " 1234")
    assert command_from(ScanBadge, {"badge": "B-1", "or": "x"}) == ScanBadge("B-1", "x")


def test_a_number_without_a_unit_is_in_the_units_that_are_shown():
    form = {**LOT, "u_at": "0.2"}
    metric = command_from(ReceiveByHydrometer, {**form, "at": "20", "units": "metric"})
    pounds = command_from(ReceiveByHydrometer, {**form, "at": "68", "units": "inch-pound"})
    assert (metric.lot, metric.density_kg_m3) == ("L-9", pytest.approx(862.0))
    assert metric.at_k == pounds.at_k == pytest.approx(293.15)


def test_a_text_that_is_no_quantity_names_its_field():
    for name in ("density", "u"):
        with pytest.raises(StationError) as refused:
            command_from(ReceiveByCertificate, {**LOT, name: "much"})
        assert refused.value.field == name
    with pytest.raises(StationError) as missing:
        command_from(ReceiveByCertificate, {k: v for k, v in LOT.items() if k != "density"})
    assert missing.value.field == "density"
    assert command_from(ReceiveByCertificate, LOT).expansion_per_k is None


def test_what_is_not_named_keeps_its_default_and_an_empty_text_is_none():
    assert command_from(Prefer, {}) == Prefer(None, None, None, None)
    assert command_from(Prefer, {"preferred_units": ""}).units == ""
    assert command_from(DropBadge, {}).person_id == ""


def test_several_fields_may_make_one_value():
    enrolled = command_from(Enrol, {"name": "Ada", "lead": "yes", "qa": "no"})
    assert enrolled.given == {Role.LEAD}
    form = {"order": "O-1", "count": "2", "family": "f", "rear_family": "r", "serial1": "A"}
    placed = command_from(PlaceOrder, {**form, "position2": "rear left", "matched": "yes"})
    assert placed.units == (Wanted("A", "f", ""), Wanted("", "r", "rear left"))
    assert placed.matched


def test_a_document_is_kept_to_the_letter():
    assert command_from(ImportUnits, {"csv": " a;b\n"}).csv == " a;b\n"


def test_a_whole_form_is_kept_without_what_is_secret():
    form = {"confirm1": "yes", "pin": "12345678", "badge": "B-00001"}
    assert command_from(Sign, form).form == {"confirm1": "yes"}


def test_secrets_are_in_no_text_that_is_looked_through_nor_in_a_log():
    @dataclass(frozen=True, slots=True)
    class Both(Command):
        reason: str
        form: Mapping[str, str]
        units: tuple[Wanted, ...]
        pin: str = secret()
        person_id: str = named("person")

    both = Both("why", {"a": "inside"}, (Wanted("S-1", "f", "front"),), "12345678", "kofler")
    assert set(texts_of(both)) == {"why", "inside", "S-1", "f", "front", "kofler"}
    assert "12345678" not in repr(both)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_read_from_a_form_that_says_nothing_or_names_what_it_lacks(name):
    kind = COMMANDS[name]
    lacks = ("receive_certificate", "receive_hydrometer", "receive_two_densities", "begin_study")
    if name in lacks:
        with pytest.raises(StationError) as refused:
            command_from(kind, {})
        assert refused.value.field
    else:
        assert not any(texts_of(command_from(kind, {})))


MEASURED = [
    (kind, declared, declared.metadata["from"].dimension)
    for kind in dict.fromkeys(COMMANDS.values())
    for declared in fields(kind)
    if "from" in declared.metadata and declared.metadata["from"].dimension is not None
]


@pytest.mark.parametrize("system", UnitSystem)
@pytest.mark.parametrize(
    ("kind", "declared", "dimension"), MEASURED, ids=lambda one: getattr(one, "__name__", "")
)
def test_each_figure_of_a_form_is_taken_alone_with_a_comma_and_with_a_unit(
    kind, declared, dimension, system
):
    every = {d.metadata["from"].name: "1" for k, d, _ in MEASURED if k is kind}
    name, unit = declared.metadata["from"].name, display_unit(dimension, system)
    expected = pytest.approx(from_display(8.1, dimension, system), rel=1e-12)
    for text in ("8.1", "8,1", f"8.1 {unit}", f" 8,1  {unit} "):
        command = command_from(kind, {**every, name: text, "units": system.value})
        assert getattr(command, declared.name) == expected
    with pytest.raises(StationError) as refused:
        command_from(kind, {**every, name: "eight", "units": system.value})
    assert refused.value.field == name
    assert f"A number alone is in {unit}." in refused.value.advice
