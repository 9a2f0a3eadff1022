"""Values of any type of ours that is stored, none of them its default."""

import dataclasses
import types
import typing
from collections.abc import Mapping
from enum import Enum

PLAIN = {str: "zwölf °C\n\0", float: 1.25e-5, int: 3, bool: True, type(None): None}


def sample_of(hint):
    """Return a value of a field's type that is not its default."""
    origin, inside = typing.get_origin(hint), typing.get_args(hint)
    if origin is types.UnionType:
        return sample_of(inside[0])
    if isinstance(hint, type) and issubclass(hint, Enum):
        return list(hint)[-1]
    if origin is typing.Literal:
        return inside[0]
    if dataclasses.is_dataclass(hint):
        hints = typing.get_type_hints(hint)
        return hint(**{f.name: sample_of(hints[f.name]) for f in dataclasses.fields(hint)})
    if origin is tuple:
        return (sample_of(inside[0]),) * 2
    if origin is dict and inside == (str, str):
        return {"b": "é", "a": "x"}
    if origin is Mapping:
        return {"lot": sample_of(inside[1])}
    if origin is dict:
        return {"b": [1, 2.5, None, {"é": True}], "a": 1e20, "c": -0.5, "d": "x"}
    return PLAIN[hint]
