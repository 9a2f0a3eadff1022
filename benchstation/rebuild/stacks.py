"""Disc stacks as a signature's evidence holds them, in words that can be held side by side."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

STACKS, AS_BUILT = "stacks", "as built"


def stacks_as_built(steps: Sequence[Mapping[str, Any]]) -> dict[str, str]:
    """Give the stacks as built from a record's steps, by side; empty where none was recorded.

    The last step that holds some counts. Equal texts are equal stacks.
    """
    found: dict[str, str] = {}
    for step in steps:
        stacks = step.get("evidence", {}).get(STACKS)
        built = stacks.get(AS_BUILT) if isinstance(stacks, Mapping) else None
        if isinstance(built, Mapping):
            found = {str(side): _in_words(discs) for side, discs in built.items() if discs}
    return found


def _in_words(discs: Any) -> str:
    if not isinstance(discs, Sequence) or isinstance(discs, str):
        return json.dumps(discs, sort_keys=True)
    return ", ".join(_disc(disc) for disc in discs)


def _disc(disc: Any) -> str:
    if isinstance(disc, Mapping) and {"outer", "thickness", "count"} <= disc.keys():
        return f"{disc['count']} x {disc['outer'] * 1e3:g}/{disc['thickness'] * 1e3:g} mm"
    return json.dumps(disc, sort_keys=True)
