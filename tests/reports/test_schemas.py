"""The documented form of an exported record, and that every record of every day has its own."""

import gzip
import json
from dataclasses import replace
from importlib.resources import files

import pytest
from jsonschema import Draft202012Validator, FormatChecker

from benchstation.demo import shop as demo
from benchstation.domain.events import UnitDisposed
from benchstation.reports.archive import attached_in
from benchstation.reports.certificate import certificate
from benchstation.reports.export import FORM, SCHEMA, as_text, filed_record, signed_json
from benchstation.reports.export_schemas import exported_record
from benchstation.store.engine import open_store
from tests.stepped_bench import START

OLD = files("tests") / "store" / "journals_form_1"
FAMILIES = 4


def judge(form):
    """Return a judge of exports of a form."""
    name = f"exported-record-{form}.schema.json"
    schema = json.loads((files("resources") / "schemas" / name).read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    assert schema["$id"] == name
    return Draft202012Validator(schema, format_checker=FormatChecker())


@pytest.fixture(scope="module")
def newest():
    return judge(FORM)


def misfits(validator, data):
    return [(list(e.absolute_path), e.message) for e in validator.iter_errors(data)]


def test_the_shipped_schema_is_the_one_that_is_written():
    """Another form of the export needs another number, and a schema file of its own."""
    shipped = (files("resources") / "schemas" / SCHEMA).read_text("utf-8")
    assert json.loads(shipped) == exported_record()


@pytest.fixture(scope="module")
def past(tmp_path_factory):
    """The demonstration's past: held, released and rejected units of its families."""
    path = tmp_path_factory.mktemp("past") / "records.sqlite"
    path.write_bytes(gzip.decompress((OLD / "demo_past.sqlite.gz").read_bytes()))
    with open_store(path, "") as store:
        units = [e.event.unit_id for e in store.entries(kind="unit.filed")]
        store.append([UnitDisposed(units[0], "rejected", "scored")], person=demo.QA, utc=START)
        store.append([UnitDisposed(units[1], "held", "again")], person=demo.QA, utc=START)
        store.append([UnitDisposed(units[2], "released", "good")], person=demo.QA, utc=START)
        yield [filed_record(store, unit) for unit in units]


def test_every_unit_of_the_demonstration_fits_and_names_its_form(past, newest):
    for filed in past:
        data = json.loads(as_text(signed_json(filed)))
        assert (data["form"], data["schema"]) == (FORM, SCHEMA)
        assert misfits(newest, data) == []
    assert len({filed.record.family for filed in past}) == FAMILIES
    assert {"rejected", "on hold", "released"} <= {f.disposition.standing for f in past}


def test_what_is_attached_to_a_paper_fits(filed, newest):
    attached, _ = attached_in(certificate(filed[1]), "a.pdf")
    assert misfits(newest, json.loads(attached)) == []


@pytest.mark.parametrize(
    ("spoil", "named"),
    [
        (lambda d: d.update(form=2), "form"),
        (lambda d: d.update(more=1), ""),
        (lambda d: d["record"].pop("serial"), "record"),
        (lambda d: d["standing"].update(now="fine"), "standing.now"),
        (lambda d: d["record"]["oil"].update(net_shown_kg="1"), "record.oil.net_shown_kg"),
        (lambda d: d["traces"]["pour"].update(sha256="0"), "traces.pour.sha256"),
    ],
)
def test_what_does_not_fit_is_found(past, newest, spoil, named):
    data = json.loads(as_text(signed_json(past[0])))
    spoil(data)
    assert named in [".".join(map(str, where)) for where, _ in misfits(newest, data)]


@pytest.mark.parametrize("name", ["rehearsal", "trouble", "demo_past"])
def test_an_export_from_before_forms_had_numbers_fits_the_first(name):
    kept = json.loads(gzip.decompress((OLD / f"{name}.json.gz").read_bytes()))
    exports = [unit["export"] for unit in kept["units"].values() if "export" in unit]
    assert exports
    first = judge(1)
    assert [misfits(first, data) for data in exports] == [[]] * len(exports)
    assert not judge(FORM).is_valid(exports[0])


def test_an_export_of_the_third_form_fits_the_third(past):
    """As form 3 was: it knew of no later rebuild of a serial."""
    third = judge(3)
    for filed in past:
        data = json.loads(as_text(signed_json(filed)))
        data |= {"form": 3, "schema": "exported-record-3.schema.json"}
        del data["standing"]["superseded"]
        assert misfits(third, data) == []


def test_an_export_of_the_second_form_fits_the_second(past):
    """As form 2 was: without a schema's name, a scale's answer, and what is stored of traces."""
    second = judge(2)
    for filed in past:
        data = json.loads(as_text(signed_json(replace(filed, key=None))))
        data = {**data, "form": 2}
        del data["schema"], data["record"]["restarts"]
        for capture in data["record"]["oil"]["captures"]:
            del capture["alive"]
        for trace in data["traces"].values():
            del trace["stored"], trace["note"]
        assert misfits(second, data) == []
