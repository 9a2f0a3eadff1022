"""Frozen values as plain JSON: mappings, lists, text, numbers, booleans and ``None``."""

from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any

_PLAIN = (str, float, int, bool, dict, type(None))


def plain(value: Any) -> Any:
    """Return a value of dataclasses, tuples and enumerations as JSON-ready data.

    A mapping in one of our values holds plain JSON, and is given back as it is.
    """
    if type(value) in _PLAIN:
        return value
    if is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    return value.value if isinstance(value, Enum) else value
