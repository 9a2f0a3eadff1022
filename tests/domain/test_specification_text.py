"""A specification's text is changed where it must be, and is the author's everywhere else."""

import tomllib
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.domain.specification_text import raised, with_values

SHIPPED = [
    file.read_text("utf-8")
    for file in (files("resources") / "demo" / "specifications").iterdir()
    if file.name.endswith(".toml")
]
TRICKY = """\
# revision = 9
note = '''
revision = 7 was another
'''
  "revision"  =  {}   # the third of them

[old]
revision = 1
"""


@given(st.integers(1, 10**6))
def test_raising_changes_the_revision_alone(revision):
    assert raised(TRICKY.format(revision)) == TRICKY.format(revision + 1)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("text", SHIPPED)
def test_one_line_of_a_shipped_text_changes(text, end):
    text = text.replace("\n", end)
    pairs = zip(text.split("\n"), raised(text).split("\n"), strict=True)
    assert [pair for pair in pairs if pair[0] != pair[1]] == [
        (f"revision = 1{end[:-1]}", f"revision = 2{end[:-1]}")
    ]


def test_a_text_without_a_revision_stays_as_it_is():
    assert raised("[oil]\n") == "[oil]\n"


@given(st.text(st.characters(exclude_categories=["Cs"]), max_size=40))
def test_any_text_is_written_so_that_it_reads_the_same(title):
    text = with_values('title = "old"  # what it is\n[oil]\n', {"title": title})
    assert tomllib.loads(text) == {"title": title, "oil": {}}
    assert text.endswith("  # what it is\n[oil]\n")
