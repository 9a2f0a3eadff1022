"""What of a specification is still the example's, so that no unit gets it by mistake.

The example's text ends in a table that names its figures and parts with the values they had. A name
counts while its value stands: a figure that is changed, in form or text, is the author's. One that
is right as it stood is taken out of the table by a person.
"""

from collections.abc import Mapping
from typing import Any

from benchstation.domain.specification import EXAMPLE_TABLE
from benchstation.domain.specification_edit import Way, at, in_braces
from benchstation.domain.specification_text import content_of

_FIGURES = {
    "geometry": (
        "bore", "rod", "internal_length", "stroke", "floating_piston", "hardware_volume",
        "piston_depth", "guide_depth", "gas_recess",
    ),
    "oil": ("grade", "volume", "tolerance", "bleed_allowance", "typical_rho15", "unit_mass"),
    "gas": ("gauge_pressure", "tolerance", "high_warning", "body_rating", "allowed_leak"),
    "limits": ("hot", "cold", "piston_room", "piston_clearance", "rebound_force"),
    "stacks": ("hub", "compression", "rebound"),
    "matching": ("oil", "charge", "push_force"),
}  # fmt: skip
_OF_A_STEP = ("measure.nominal", "measure.tolerance", "torque.nominal", "torque.tolerance")


def marks_of(content: Mapping[str, Any]) -> dict[str, Any]:
    """Return the table of an example: the name of each figure and part of a unit, and its value."""
    found = {"title": content["title"]} if "title" in content else {}
    found |= {
        f"{table}.{name}": content[table][name]
        for table, names in _FIGURES.items()
        for name in names
        if at(content, (table, name)) is not None
    }
    for step in content.get("steps", ()):
        for name in _OF_A_STEP:
            value = at(step, tuple(name.split(".")))
            if value is not None:
                found[f"steps.{step['id']}.{name}"] = value
        for listed in ("parts", "inputs"):
            for entry in step.get(listed, ()):
                for key in ("number", "nominal"):
                    if entry.get(key):
                        name = entry.get("number") or entry["label"]
                        found[f"steps.{step['id']}.{listed}.{name}.{key}"] = entry[key]
    return found


def marked(text: str) -> str:
    """Return an example's text with the table of what its reader must still make their own."""
    import tomlkit

    table = tomlkit.document()
    for name, value in marks_of(content_of(text)).items():
        table.add(name, in_braces(value))
    return f"{text.rstrip()}\n\n{_WORDS}[{EXAMPLE_TABLE}]\n{tomlkit.dumps(table)}"


_WORDS = """\
# What is still the example's. A figure that you change is yours; one that is right as it stands is
# confirmed in the form, or its line taken out here. A draft is approved when none is left.
"""


def still_example(content: Mapping[str, Any]) -> dict[str, str]:
    """Return the place of each figure that is still the example's, with its name in the table."""
    table = content.get(EXAMPLE_TABLE)
    if not isinstance(table, Mapping):
        return {}
    found = {}
    for name, value in table.items():
        way = _way(content, name)
        if way is not None and at(content, way) == value:
            found[".".join(map(str, way))] = str(name)
    return found


def why_still_example(content: Mapping[str, Any]) -> str:
    """Return that figures are still the example's, naming some; empty: none is."""
    names = list(still_example(content).values())
    if not names:
        return ""
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    count = "one figure is" if len(names) == 1 else f"{len(names)} figures are"
    return f"{count} still the example's: {', '.join(names[:3])}{more}"


def _way(content: Any, name: str) -> Way | None:
    """Return the place that a name means: steps by their ids, other entries by number or label."""
    way: list[str | int] = []
    parts = name.split(".")
    while parts:
        if isinstance(content, list):
            found = _entry(content, parts)
            if found is None:
                return None
            place, used = found
            way.append(place)
            content = content[place]
        else:
            used = 1
            if not isinstance(content, Mapping) or parts[0] not in content:
                return None
            way.append(parts[0])
            content = content[parts[0]]
        parts = parts[used:]
    return tuple(way)


def _entry(entries: list[Any], parts: list[str]) -> tuple[int, int] | None:
    """Return which entry is named, and by how many parts: a number may have stops in it."""
    for place, entry in enumerate(entries):
        for used in range(len(parts), 0, -1):
            if ".".join(parts[:used]) in _names_of(entry):
                return place, used
    return None


def _names_of(entry: object) -> tuple[object, ...]:
    if not isinstance(entry, Mapping):
        return ()
    return entry.get("id"), entry.get("number"), entry.get("label")
