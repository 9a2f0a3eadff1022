"""A docstring of a function begins with what comes back or happens, in the plain form of a verb."""

import ast
from collections.abc import Iterator

from tests.spoken_text import ROOT

PACKAGES = ("benchstation", "drivers", "sample_devices")
NO_VERB = frozenset(
    [
        "A",
        "All",
        "An",
        "Any",
        "Bytes",
        "Give",
        "Gives",
        "How",
        "However",
        "It",
        "No",
        "Nothing",
        "Say",
        "The",
        "What",
        "Where",
        "Whether",
        "Who",
    ]
)
CONTRACT = "driver_api/testing/conformance.py"
"""Its tests say what holds of a driver, as tests do."""


def first_words() -> Iterator[tuple[str, str]]:
    """Return the place and the first word of every function's docstring."""
    for package in PACKAGES:
        for path in sorted((ROOT / package).rglob("*.py")):
            if str(path).endswith(CONTRACT):
                continue
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                    said = (ast.get_docstring(node) or "").split()
                    if said:
                        yield f"{path.relative_to(ROOT)}:{node.lineno}", said[0].strip(",:;")


def test_a_docstring_begins_with_a_verb():
    words = list(first_words())
    assert len(words) > 1500
    assert [f"{place}: {word}" for place, word in words if word in NO_VERB] == []
