"""What the documents name is there, and the one for visitors is short."""

import re
import tomllib

from benchstation import __version__
from tests.import_reader import ROOT

PLACES = ("", "benchstation", "benchstation/domain", "benchstation/bench", "benchstation/screens")
"""Where a name may begin: text about a room need not repeat it."""
A_PATH = re.compile(r"`((?:[\w.]+/)+(?:[\w.]+)?)`(?! \(new\))")
"""Code that is a path; what a change would make anew is marked so."""
A_SCREEN_LINES, A_LINE = 60, 130
"""How many lines of text a visitor reads, and how wide they are on a screen."""


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


def shown_lines(text: str) -> int:
    """Return how many lines of a screen a Markdown text takes without its pictures."""
    paragraphs = re.sub(r"!\[.*?\]\(.*?\)|<!--.*?-->|^```.*$", "", text, flags=re.M).split("\n\n")
    return sum(
        sum(1 for line in block.splitlines() if line)
        if f"\n```sh\n{block.strip()}" in text or ".venv/bin" in block
        else -(-len(" ".join(block.split())) // A_LINE)
        for block in paragraphs
    )


def test_the_readme_takes_one_screen_beside_its_pictures():
    text = (ROOT / "README.md").read_text("utf-8")
    assert 20 < shown_lines(text) <= A_SCREEN_LINES


def test_lines_are_counted_as_a_screen_breaks_them():
    assert shown_lines("word " * 60) == 3
    assert shown_lines("![a](b.png)\n\n# Head\n\n```sh\nls\ncd\n```\n") == 3


def test_what_the_readme_links_to_is_there():
    links = re.findall(r"\]\(([^)\s]+)\)", (ROOT / "README.md").read_text("utf-8"))
    assert len(links) >= 5
    assert [link for link in links if not (ROOT / link).is_file()] == []


def test_the_version_is_one_and_the_newest_change_is_its_own():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert project["version"] == __version__
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    changes = text.split("\n## Changes\n", 1)[1].split("\n## ", 1)[0]
    assert re.findall(r"^### (.+)$", changes, re.M)[0] == __version__


def doubled(text: str) -> list[str]:
    """Return the headings that stand twice under the same heading above them, outside code."""
    above: list[str] = []
    seen: set[tuple[str, ...]] = set()
    found = []
    for marks, title in re.findall(
        r"^(#+) +(.+?)\s*$", re.sub(r"^```.*?^```", "", text, flags=re.M | re.S), re.M
    ):
        above = [*above[: len(marks) - 1], title]
        if tuple(above) in seen:
            found.append(title)
        seen.add(tuple(above))
    return found


def test_no_document_has_a_heading_twice():
    papers = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *(ROOT / "resources/help").glob("*.md")]
    assert len(papers) > 10
    assert {paper.name: doubled(paper.read_text("utf-8")) for paper in papers} == {
        paper.name: [] for paper in papers
    }


def test_a_heading_that_stands_twice_is_found():
    twice = "# A\n## Release\n### 1.0\n## Changes\n### 1.0\n## Release\n```\n# A\n```\n"
    assert doubled(twice) == ["Release"]
