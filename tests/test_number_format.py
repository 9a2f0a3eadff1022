"""One number format: what people read is written by the formatter, never by a bare format spec."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.spoken_text import ROOT

PACKAGES = ("screens", "reports", "ui", "bench", "domain")
NOT_READ_BY_PEOPLE = {
    "benchstation/bench/capture/tracing.py": "the raw bytes beside a trace, written for machines",
    "benchstation/bench/outputs/feed.py": "the line feed, read by machines in UTC",
    "benchstation/reports/export.py": "JSON and CSV keep UTC",
    "benchstation/reports/archive.py": "a PDF's own dates, as ISO 32000 has them",
    "benchstation/reports/unit_list.py": "cells of a CSV file, SI",
    "benchstation/reports/export_all.py": "JSON and CSV keep UTC",
}
NUMBER = re.compile(r"z?[+\- ]?(\d+|,)?(\.(\d+|\{…\})?)?[eEfFgGn%]")
TIME = re.compile(r"%[YmdHMSbBc]")
BARE_FORMAT = re.compile(r"%[+\- 0]?\d*(\.\d+)?[eEfFgG]|\{[^{}]*:[^{}]*[eEfFgG%]\}")


def spec_of(node: ast.FormattedValue) -> str:
    parts = node.format_spec.values if isinstance(node.format_spec, ast.JoinedStr) else ()
    return "".join(str(p.value) if isinstance(p, ast.Constant) else "{…}" for p in parts)


def bare_formats(source: str) -> Iterator[tuple[int, str]]:
    """Return line and spec of every number or time that is formatted on the spot."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FormattedValue):
            spec = spec_of(node)
            if NUMBER.fullmatch(spec) or TIME.search(spec):
                yield node.lineno, spec
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute):
            name = node.func.id if isinstance(node.func, ast.Name) else node.func.attr
            if name == "strftime" or (name == "format" and isinstance(node.func, ast.Name)):
                yield node.lineno, name
            if name == "str" and node.args and _is_rounded(node.args[0]):
                yield node.lineno, "str(round())"
        elif isinstance(node, ast.BinOp | ast.Attribute):
            # "%.2f" % mass, and "{:.2f}".format
            text = node.left if isinstance(node, ast.BinOp) else node.value
            if isinstance(text, ast.Constant) and BARE_FORMAT.search(str(text.value)):
                yield node.lineno, str(text.value)


def _is_rounded(node: ast.expr) -> bool:
    return (
        isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "round"
    )


def sources() -> Iterator[tuple[str, str]]:
    for package in PACKAGES:
        for path in sorted((ROOT / "benchstation" / package).rglob("*.py")):
            yield str(Path(path).relative_to(ROOT)), path.read_text(encoding="utf-8")


def test_no_number_and_no_time_is_formatted_outside_the_formatter():
    found = [
        f"{place}:{line}: {spec}"
        for place, source in sources()
        if place not in NOT_READ_BY_PEOPLE
        for line, spec in bare_formats(source)
    ]
    assert found == [], "use benchstation.quantities.formatter or notation"


@pytest.mark.parametrize("place", NOT_READ_BY_PEOPLE)
def test_an_exception_is_needed(place):
    source = (ROOT / place).read_text(encoding="utf-8")
    assert any(bare_formats(source)) or "isoformat(" in source


@pytest.mark.parametrize(
    "source",
    [
        'f"{mass:.2f} g"',
        'f"{mass:z.{digits}f}"',
        'f"{share:.0%}"',
        'f"{u:g}"',
        'f"{u:+.3e}"',
        'f"{when:%H:%M}"',
        "when.strftime('%H:%M')",
        "format(mass, '.2f')",
        "str(round(mass, 2))",
        "'%.2f g' % mass",
        "'{:.2f} g'.format(mass)",
    ],
)
def test_a_bare_format_is_found(source):
    assert list(bare_formats(source))


@pytest.mark.parametrize(
    "source", ['f"{count} units"', 'f"{name:<8}"', 'f"{count:03d}"', 'f"{c:04X}"']
)
def test_counts_and_columns_are_let_be(source):
    assert not list(bare_formats(source))
