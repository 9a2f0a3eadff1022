"""How the body of an older form becomes one of the next form: the one list of all such ways.

Each way is a pure function from the body of form n to the body of form n + 1. One that was
released is never edited: journals hold what it reads. Fields that form 1 got later, each with a
default, may be missing in it; from form 2 on every field is there.
"""

from collections.abc import Callable
from typing import Any

Body = dict[str, Any]


def _of_the_only_gauge(body: Body) -> Body:
    """Return an alarm's change that does not say its gauge: there was but one."""
    return {"reason": "", **body, "gauge_id": ""}


UPGRADES: dict[tuple[str, int], Callable[[Body], Body]] = {
    ("alarm.changed", 1): _of_the_only_gauge,
}
"""By kind and the form that is read; the result has the next form."""


def upgraded(kind: str, body: Body, form: int, newest: int) -> Body:
    """Return the body of ``form`` as one of the ``newest`` form."""
    for number in range(form, newest):
        body = UPGRADES[kind, number](body)
    return body
