"""How the body of an older form becomes one of the next form: the one list of all such ways.

Each way is a pure function from the body of form n to the body of form n + 1. One that was
released is never edited: journals hold what it reads. Fields that form 1 got later, each with a
default, may be missing in it; from form 2 on every field is there.
"""

from collections.abc import Callable
from typing import Any

from benchstation.domain.budget_rows import name_from_words
from benchstation.domain.events import earlier_prose as prose
from benchstation.domain.inputs.earlier import evidence_of_mapping

Body = dict[str, Any]


def upgraded(kind: str, body: Body, form: int, newest: int) -> Body:
    """Return the body of ``form`` as one of the ``newest`` form."""
    for number in range(form, newest):
        body = UPGRADES[kind, number](body)
    return body


def _of_the_only_gauge(body: Body) -> Body:
    """Return an alarm's change that does not say its gauge: there was but one."""
    return {"reason": "", **body, "gauge_id": ""}


def _typed_evidence(body: Body) -> Body:
    """Read a mapping by labels and by keys of ours, and its sentence, into results by type."""
    rest = {name: value for name, value in body.items() if name not in ("evidence", "summary")}
    said = str(body.get("summary", ""))
    return {**rest, "evidence": evidence_of_mapping(body.get("evidence", {}), said)}


def _tared(body: Body) -> Body:
    given = body.get("emptied")
    body = {"purpose": "", **body}
    loads = {"method": "", "load_kg": None, "contradicted_kg": None}
    return {**body, **loads, "emptied": _emptied(given) if given else None}


def _emptied(given: Body) -> Body:
    return {
        **given,
        "statements": [prose.undone(text) for text in given["statements"]],
        "reasons": [prose.reason(text) for text in given["reasons"]],
    }


def _mass(body: Body) -> Body:
    later: Body = {
        "method": "gain",
        "oil_lot": "",
        "portion": 0,
        "again": False,
        "before_kg": None,
        "raw_slice": [],
        "calibration": "",
        "u_calibration_kg": None,
    }
    return {**later, **body, "by_hand": body.get("by_hand") or None}


def _lot(body: Body) -> Body:
    later: Body = {"alpha_per_k": None, "source": ""}
    return {**later, **body, "u_alpha_per_k": None, "covariance_per_k": 0.0}


def _scatter_not_written(body: Body) -> Body:
    return {**body, "zero_kg": None, "u_repeated_kg": None, "dof_repeated": None}


def _life_not_written(body: Body) -> Body:
    return {**body, "alive": ""}


def _charge(body: Body) -> Body:
    later: Body = {"raw_slice": [], "calibration": ""}
    return {**later, **body, "by_hand": body.get("by_hand") or None}


def _hold(body: Body) -> Body:
    later: Body = {
        "stood_still_s": 0.0,
        "gauge_stuck": False,
        "record_s": None,
        "u_scatter_pa_m3_s": None,
        "slow_pa_m3_s": 0.0,
        "doubt": "",
        "wait_s": 0.0,
        "drift": None,
    }
    return {**later, **body}


def _tare_lost(body: Body) -> Body:
    return {"uncaptured_kg": 0.0, **body, "reason": prose.reason(body["reason"])}


def _unweighed(body: Body) -> Body:
    return {"about_kg": None, **body, "reason": prose.reason(body["reason"])}


def _deviation(body: Body) -> Body:
    return {**body, "subject": prose.subject(body["subject"])}


def _set_aside(body: Body) -> Body:
    return {**body, "gas": prose.gas(body["gas"])}


def _filed(body: Body) -> Body:
    record = body["record"]
    changed: Body = {"format": "benchstation-record/2"}
    if "qa_hold_reasons" in record:
        changed["qa_hold_reasons"] = [prose.hold_reason(r) for r in record["qa_hold_reasons"]]
    if "decision_rule" in record:
        changed["decision_rule"] = prose.decision_rule(record["decision_rule"])
    if "deviations" in record:
        changed["deviations"] = [_deviation(found) for found in record["deviations"]]
    if "asides" in record:
        changed["asides"] = [_set_aside(found) for found in record["asides"]]
    if "steps" in record:
        changed["steps"] = [_typed_evidence(step) for step in record["steps"]]
    if "worked" in record:
        changed["worked"] = [_shift(found) for found in record["worked"]]
    if "oil" in record:
        changed["oil"] = _recorded_oil(record["oil"])
    if "charge" in record:
        changed["charge"] = {**record["charge"], "by_hand": record["charge"].get("by_hand") or None}
    return {**body, "record": {**record, **changed}}


def _recorded_oil(oil: Body) -> Body:
    captures = [{**found, "by_hand": found.get("by_hand") or None} for found in oil["captures"]]
    emptied = [_emptied(found) for found in oil.get("emptied", ())]
    return {**oil, "captures": captures, "emptied": emptied}


def _shift(found: Body) -> Body:
    return {"name": found["name"], "since": found["from"], "until": found["until"]}


def _checked(body: Body) -> Body:
    return {**body, "zero": None}


def _unseen(body: Body) -> Body:
    return {**body, "seen_empty_kg": None, "scale_id": ""}


def _typed_weight(body: Body) -> Body:
    return {**body, "weight": "", "weight_error": None}


def _as_it_was(body: Body) -> Body:
    # Its results have fields more, which say nothing where they are missing.
    return body


def _no_supplier(body: Body) -> Body:
    return {**body, "supplier": "", "until": ""}


def _no_conditions(body: Body) -> Body:
    return {**body, "conditions": []}


def _registered(body: Body) -> Body:
    return {**body, "calibration": None}


def _unit_weighed(body: Body) -> Body:
    later: Body = {"second": False, "air_density_kg_m3": None, "u_air_density_kg_m3": None}
    return {**later, **body}


def _alone(body: Body) -> Body:
    return {**body, "batch": ""}


def _coded(body: Body) -> Body:
    """Name the contributions of a budget by their codes."""
    rows = [{**row, "name": name_from_words(row["name"])} for row in body.get("budget", ())]
    return {**body, "budget": rows}


def _coded_record(body: Body) -> Body:
    record = body["record"]
    changed: Body = {key: _coded(record[key]) for key in ("oil", "charge") if record.get(key)}
    if record.get("set"):
        spreads = [
            {**one, "common": [name_from_words(name) for name in one["common"]]}
            for one in record["set"]["spreads"]
        ]
        changed["set"] = {**record["set"], "spreads": spreads}
    return {**body, "record": {**record, **changed}}


UPGRADES: dict[tuple[str, int], Callable[[Body], Body]] = {
    ("alarm.changed", 1): _of_the_only_gauge,
    ("instrument.checked", 1): _checked,
    ("instrument.checked", 2): _typed_weight,
    ("instrument.registered", 1): _registered,
    ("step.signed", 1): _typed_evidence,
    ("step.signed", 2): _as_it_was,
    ("unit.zero_proven", 1): _typed_evidence,
    ("charge.captured", 1): _charge,
    ("charge.captured", 2): _no_conditions,
    ("gas.found", 1): _no_conditions,
    ("charge.captured", 3): _coded,
    ("oil.judged", 1): _coded,
    ("charge.hold_tested", 1): _hold,
    ("gas.unit_weighed", 1): _unit_weighed,
    ("oil.received", 1): _lot,
    ("oil.received", 2): _no_supplier,
    ("weigh.captured", 1): _mass,
    ("weigh.captured", 2): _scatter_not_written,
    ("weigh.captured", 3): _life_not_written,
    ("weigh.tared", 1): _tared,
    ("weigh.tare_lost", 1): _tare_lost,
    ("weigh.unweighed", 1): _unweighed,
    ("weigh.unweighed", 2): _unseen,
    ("unit.deviation", 1): _deviation,
    ("unit.disposed", 1): _alone,
    ("unit.set_aside", 1): _set_aside,
    ("unit.filed", 1): _filed,
    ("unit.filed", 2): _coded_record,
    ("unit.filed", 3): _as_it_was,
}
"""By kind and the form that is read; the result has the next form."""
