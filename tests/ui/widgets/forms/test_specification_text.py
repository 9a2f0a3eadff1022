"""The text of a specification: raised, written without replacing, read with care."""

import os
import tomllib

import pytest

from benchstation.domain.approval import not_the_next, why_not_yet
from benchstation.domain.specification import specification_from_toml
from benchstation.driver_api.errors import StationError
from benchstation.ui.widgets.forms.specification_text import (
    LONGEST_BYTES,
    example,
    file_name,
    read_source,
    replace_source,
    write_source,
)
from tests.ui.fake_specifications import source


def test_the_example_is_a_whole_specification_that_says_what_it_is():
    text = example()
    assert text.startswith("# This is an example")
    assert "EVERY figure" in text
    found = specification_from_toml(text, where="example")
    assert [problem.field for problem in not_the_next(found, ())] == ["id", "family"]
    assert "figures are still the example's" in why_not_yet(tomllib.loads(text), found)
    for name in (found.family, found.title):
        assert name.startswith("Example: ")
    assert "rescue" not in text.casefold()


@pytest.mark.parametrize(
    ("text", "name"),
    [
        (source(3), "sledge-46-revision-3.toml"),
        ('id = "../../etc/pass wd"', "etc-pass-wd.toml"),
        ('id = "a"\nrevision = "x"', "a.toml"),
        ("not TOML", "specification.toml"),
        ('id = "///"', "specification.toml"),
        ("", "specification.toml"),
    ],
)
def test_a_file_is_named_after_id_and_revision_and_nothing_else(text, name):
    assert file_name(text) == name


def test_it_is_written_into_a_folder_and_comes_back_the_same(tmp_path):
    text = "# Öl, 46\u00a0mm\n" + source(3)
    path = write_source(str(tmp_path / "new" / "folder"), text)
    assert path == tmp_path / "new" / "folder" / "sledge-46-revision-3.toml"
    assert path.read_bytes() == text.encode()
    assert read_source(str(path)) == text


def test_another_text_is_never_replaced(tmp_path):
    first = write_source(str(tmp_path), source(3, 262))
    assert write_source(str(tmp_path), source(3, 262)) == first
    second = write_source(str(tmp_path), source(3, 263))
    assert second.name == "sledge-46-revision-3-2.toml"
    third = write_source(str(first), source(3, 264))
    assert third.name == "sledge-46-revision-3-3.toml"
    assert read_source(str(first)) == source(3, 262)
    assert len(list(tmp_path.iterdir())) == 3


def test_a_file_can_be_named_outright(tmp_path):
    wanted = tmp_path / "mine.toml"
    assert write_source(str(wanted), source(3)) == wanted


def test_a_place_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(StationError, match="not written") as caught:
        write_source(str(tmp_path / "file" / "below"), source(3))
    assert "still here" in caught.value.advice


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "no file"),
        (b"\xff\xfe\x00", "no text in UTF-8"),
        (b"#" * (LONGEST_BYTES + 1), "too large"),
    ],
    ids=["missing", "binary", "large"],
)
def test_a_bad_file_is_told_in_words(tmp_path, content, said):
    path = tmp_path / "a.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(StationError, match=said) as caught:
        read_source(str(path))
    assert caught.value.advice


def test_a_file_chosen_in_a_dialog_is_replaced_whole(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text("old", "utf-8")
    assert replace_source(str(path), source(3)) == path
    assert path.read_text("utf-8") == source(3)
    assert replace_source(str(tmp_path / "b"), "x").name == "b.toml"
    assert sorted(file.name for file in tmp_path.iterdir()) == ["a.toml", "b.toml"]
    with pytest.raises(StationError, match="not written"):
        replace_source(str(tmp_path / "missing" / "a.toml"), "x")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_no_file(tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(StationError, match="no file"):
        read_source(str(tmp_path / "pipe.toml"))


def test_a_folder_is_no_file(tmp_path):
    with pytest.raises(StationError, match="no file"):
        read_source(str(tmp_path))


def test_the_mark_that_some_editors_write_first_is_left_out(tmp_path):
    (tmp_path / "a.toml").write_bytes(b"\xef\xbb\xbf# a\r\n")
    assert read_source(str(tmp_path / "a.toml")) == "# a\n"
