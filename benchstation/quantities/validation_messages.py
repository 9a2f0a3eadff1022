"""What does not fit in a text from outside, in words that name the place as a reader counts it."""

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

_WORDS = {
    "missing": "is missing",
    "extra_forbidden": "is not known here",
    "greater_than": "must be greater than {gt:g}",
    "greater_than_equal": "must be at least {ge:g}",
    "less_than": "must be less than {lt:g}",
    "less_than_equal": "must be at most {le:g}",
    "finite_number": "must be a number",
    "float_type": "must be a number",
    "float_parsing": "must be a number",
    "int_type": "must be a whole number",
    "int_parsing": "must be a whole number",
    "int_from_float": "must be a whole number",
    "string_type": "must be text in quotes",
    "string_too_short": "must not be empty",
    "string_too_long": "is longer than {max_length} characters",
    "too_short": "needs at least {min_length}",
    "bool_type": "must be true or false",
    "model_type": "must be a table of its own",
    "dict_type": "must be a table of its own",
    "tuple_type": "must be a list",
    "literal_error": "must be {expected}",
    "enum": "must be {expected}",
    "union_tag_not_found": "needs {discriminator}",
    "union_tag_invalid": "has a {discriminator} that is not known here, '{tag}': {expected_tags}",
    "string_pattern_mismatch": "is written with other characters than {pattern} allows",
}


class ValidationFailure(Protocol):
    """What a checking model raises: pydantic's ``ValidationError`` has this form."""

    def errors(self) -> Sequence[Mapping[str, Any]]:
        """Return each problem with its ``loc``, ``type``, ``msg`` and ``ctx``."""


def in_words(failure: ValidationFailure) -> str:
    """Return all problems as one text, without a full stop at its end."""
    return "; ".join(_one(problem) for problem in failure.errors())


def each_in_words(failure: ValidationFailure) -> list[tuple[tuple[object, ...], str, str]]:
    """Return each problem: where it is, that place as a reader counts it, and what is wrong."""
    return [
        (tuple(problem["loc"]), _place(problem["loc"]), _message(problem))
        for problem in failure.errors()
    ]


def first_place(failure: ValidationFailure) -> str:
    """Return the place of the first problem, such as ``calibration.u``; empty for the whole."""
    return next((_place(problem["loc"]) for problem in failure.errors()), "")


def _one(problem: Mapping[str, Any]) -> str:
    place, message = _place(problem["loc"]), _message(problem)
    return f"{place}: {message}" if place else message


def _place(parts: Sequence[object]) -> str:
    """Return ``steps, entry 3, measure.nominal`` for ``("steps", 2, "measure", "nominal")``."""
    said = ""
    for part in parts:
        if isinstance(part, int):
            said += f", entry {part + 1}"
        elif part != "[key]":
            join = "" if not said else ", " if said.rpartition(", ")[2].startswith("entry") else "."
            said += f"{join}{part}"
    return said.removeprefix(", ")


def _message(problem: Mapping[str, Any]) -> str:
    known = _WORDS.get(str(problem["type"]))
    if known is not None:
        return known.format(**problem.get("ctx", {}))
    return str(problem["msg"]).removeprefix("Value error, ").rstrip(".")
