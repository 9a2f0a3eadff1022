"""Frozen values as plain JSON: mappings, lists, text, numbers, booleans and ``None``."""

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from enum import Enum
from typing import Any


def plain(value: Any) -> Any:
    """Return a value of dataclasses, tuples and enumerations as JSON-ready data."""
    if is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, Mapping):
        return {key: plain(item) for key, item in value.items()}
    return value.value if isinstance(value, Enum) else value
