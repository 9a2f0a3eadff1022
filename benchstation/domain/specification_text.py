"""A specification's text changed by the program: comments, order and spaces stay the author's."""

from collections.abc import Mapping
from typing import Any

from benchstation.domain.specification import Specification
from benchstation.driver_api.outside_text import toml_in

FIRST_LINE = "# Bare numbers are SI.\n"


def with_values(text: str, values: Mapping[str, str | int]) -> str:
    """Return a TOML text that says other values at its top, and nothing else changed."""
    # Only who changes a text waits for the library.
    import tomlkit

    document = tomlkit.parse(text)
    for name, value in values.items():
        document[name] = value
    return tomlkit.dumps(document)


def raised(text: str) -> str:
    """Return a text with its revision raised by one; one without a revision as it is."""
    import tomlkit

    revision = tomlkit.parse(text).unwrap().get("revision")
    return with_values(text, {"revision": revision + 1}) if isinstance(revision, int) else text


def as_toml(specification: Specification) -> str:
    """Return a specification as TOML, in SI, for one that was stored without its text."""
    import tomlkit

    return FIRST_LINE + tomlkit.dumps(_without_none(specification.content()))


def _without_none(value: Mapping[str, object]) -> dict[str, object]:
    return {name: _clean(item) for name, item in value.items() if item is not None}


def _clean(item: object) -> object:
    if isinstance(item, Mapping):
        return _without_none(item)
    return [_clean(part) for part in item] if isinstance(item, list | tuple) else item


def content_of(text: str) -> dict[str, Any]:
    """Return what a text says, unjudged; raises ``ValueError`` where it is no TOML."""
    return toml_in(text)
