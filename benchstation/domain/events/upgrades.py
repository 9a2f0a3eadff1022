"""How the body of an older form becomes one of the next form: the one list of all such ways.

Each way is a pure function from the body of form n to the body of form n + 1. One that was
released is never edited: journals hold what it reads. Fields that form 1 got later, each with a
default, may be missing in it; from form 2 on every field is there.
"""

from collections.abc import Callable
from typing import Any

from benchstation.domain.inputs.earlier import evidence_of_mapping

Body = dict[str, Any]


def _of_the_only_gauge(body: Body) -> Body:
    """Return an alarm's change that does not say its gauge: there was but one."""
    return {"reason": "", **body, "gauge_id": ""}


def _typed_evidence(body: Body) -> Body:
    """Read a mapping by labels and by keys of ours, and its sentence, into results by type."""
    rest = {name: value for name, value in body.items() if name not in ("evidence", "summary")}
    said = str(body.get("summary", ""))
    return {**rest, "evidence": evidence_of_mapping(body.get("evidence", {}), said)}


UPGRADES: dict[tuple[str, int], Callable[[Body], Body]] = {
    ("alarm.changed", 1): _of_the_only_gauge,
    ("step.signed", 1): _typed_evidence,
    ("unit.zero_proven", 1): _typed_evidence,
}
"""By kind and the form that is read; the result has the next form."""


def upgraded(kind: str, body: Body, form: int, newest: int) -> Body:
    """Return the body of ``form`` as one of the ``newest`` form."""
    for number in range(form, newest):
        body = UPGRADES[kind, number](body)
    return body
