"""What the document for developers names is there."""

import re

from tests.import_reader import ROOT

PLACES = ("", "benchstation", "benchstation/domain", "benchstation/bench", "benchstation/screens")
"""Where a name may begin: text about a room need not repeat it."""
A_PATH = re.compile(r"`((?:[\w.]+/)+(?:[\w.]+)?)`(?! \(new\))")
"""Code that is a path; what a change would make anew is marked so."""


def missing(text: str) -> list[str]:
    """Return the paths in a text, as code, that are in no place of ours."""
    named = A_PATH.findall(text)
    return [path for path in named if not any((ROOT / place / path).exists() for place in PLACES)]


def test_every_path_that_the_developers_document_names_is_there():
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    assert missing(text) == []
    assert len(A_PATH.findall(text)) > 30


def test_a_path_that_is_not_there_is_found():
    assert missing("see `ui/no_such.py`, `benchstation/no/` and `tests/conftest.py`") == [
        "ui/no_such.py",
        "benchstation/no/",
    ]
