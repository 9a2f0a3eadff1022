"""The help's yardsticks: every clause of each list has its row, and every test named is there."""

import ast
import re
from importlib.resources import files

import pytest

from tests.import_reader import ROOT

TEXT = (files("resources") / "help" / "yardsticks.md").read_text("utf-8")
CLAUSES = {
    "21 CFR part 11": [
        *(f"11.10 ({letter})" for letter in "abcdefghijk"),
        "11.30", "11.50", "11.70", "11.100", "11.200", "11.300",
    ],
    "EU GMP Annex 11": [str(n) for n in range(1, 18)],
    "ISO/IEC 17025": [f"7.8.{n}" for n in range(1, 9)],
    "ISO 9001": ["8.5.2", "8.7.1", "8.7.2"],
}  # fmt: skip
"""The numbers of the clauses, from memory."""
NAMED = re.compile(r"\*([\w/]+): ([^*|]+)\*")
NO_CLAIM = re.compile(
    r"\b(conforms|compliant|complies|certified|validated by|fulfils)\b", re.IGNORECASE
)


def rows(text: str, heading: str) -> list[list[str]]:
    """Return the cells of each row below a heading."""
    part = next(p for p in text.split("\n## ") if p.startswith(heading))
    lines = [line for line in part.splitlines() if line.startswith("|")]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]
    return cells[2:]


def function_names(path) -> set[str]:
    tree = ast.parse(path.read_text("utf-8"))
    return {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}


def missing(text: str) -> list[str]:
    """Return the tests that a text names and that are not there."""
    found = []
    for place, words in NAMED.findall(text):
        path = ROOT / "tests" / f"{place}.py"
        name = f"test_{words.replace(' ', '_')}"
        if not path.exists() or name not in function_names(path):
            found.append(f"{place}: {words}")
    return found


@pytest.mark.parametrize("standard", CLAUSES)
def test_every_clause_has_a_row_and_no_row_is_of_another(standard):
    first = [row[0] for row in rows(TEXT, standard)]
    for clause in CLAUSES[standard]:
        assert any(cell.startswith(f"{clause} ") for cell in first), clause
    for cell in first:
        assert any(cell.startswith(f"{clause} ") for clause in CLAUSES[standard]), cell


def test_every_test_that_is_named_is_there():
    assert missing(TEXT) == []


@pytest.mark.parametrize("standard", CLAUSES)
def test_whatever_the_station_does_has_a_test_beside_it(standard):
    for clause, does, shop, does_not in rows(TEXT, standard):
        assert any((does, shop, does_not)), clause
        assert not does or NAMED.search(does), clause
        assert not NAMED.search(shop + does_not), clause


def test_a_test_that_is_not_there_is_found():
    text = "*test_yardsticks: a test that is not there is found*, *test_yardsticks: nothing at all*"
    assert missing(f"{text}, *no/such_file: whatever*") == [
        "test_yardsticks: nothing at all", "no/such_file: whatever",
    ]  # fmt: skip


def test_it_claims_nothing_for_anybody():
    assert NO_CLAIM.findall(TEXT) == []
    assert "no certificate, no validation, and no claim that any shop meets any rule" in TEXT


def test_it_is_a_topic_of_the_help():
    source = (ROOT / "benchstation" / "ui" / "pages" / "help.py").read_text("utf-8")
    assert '"yardsticks",' in source
