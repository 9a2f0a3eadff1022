"""Older forms of the settings file, each with the step to the next one.

A form is what a file of one version may hold. A step takes and gives plain data: what is wrong in
it is found when the newest form is checked.
"""

from collections.abc import Callable, Mapping
from typing import Any, Final

VERSION: Final = 2
"""The form that is written."""


def _to_2(data: dict[str, Any]) -> dict[str, Any]:
    """Return form 2: a list of instruments in place of one by each of two names."""
    placed = data.get("instruments")
    if not isinstance(placed, Mapping):
        return data
    listed = [
        {**one, "role": role} if isinstance(one, Mapping) else one for role, one in placed.items()
    ]
    return {**data, "instruments": listed}


_STEPS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {1: _to_2}


def upgraded(data: dict[str, Any]) -> dict[str, Any]:
    """Return settings of any form up to :data:`VERSION` in that form; without a number it is 1."""
    version = data.get("version", 1)
    while isinstance(version, int) and version in _STEPS:
        data, version = _STEPS[version](data), version + 1
        data = {**data, "version": version}
    return data
