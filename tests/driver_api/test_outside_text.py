"""Files of others are read to a bound in size and depth, and refused in one line."""

import pytest

from benchstation.driver_api.outside_text import TOO_DEEP, json_in, text_in, toml_in

DEEP = 100_000


def test_a_good_file_is_its_text(tmp_path):
    path = tmp_path / "good.toml"
    path.write_text('a = "ü"\n', "utf-8")
    assert text_in(path, 100) == 'a = "ü"\n'
    assert toml_in(text_in(path, 100)) == {"a": "ü"}
    assert json_in('{"a": [1]}') == {"a": [1]}


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"x" * 11, "too large: the most is 1e-05 MB"),
        (b"a\nb\xff", "line 2 is not UTF-8 text"),
        (b"a\n\nb\0", "line 3 holds a NUL"),
    ],
)
def test_a_file_that_is_no_text_is_refused(tmp_path, data, words):
    path = tmp_path / "bad"
    path.write_bytes(data)
    with pytest.raises(ValueError, match=words):
        text_in(path, 10)


def test_a_file_without_end_and_a_name_that_is_none_are_refused(tmp_path):
    with pytest.raises(ValueError, match="too large"):
        text_in(tmp_path.__class__("/dev/zero"), 10)
    for name in ("a\0b", "x" * 5000, str(tmp_path)):
        with pytest.raises(ValueError, match=r"cannot be|its name"):
            text_in(tmp_path.__class__(name), 10)


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * DEEP, "a = " + "{a = " * DEEP, "a" + ".a" * DEEP + " = 1", "[a" + ".a" * 200],
)
def test_toml_nested_too_deeply_is_refused_at_once(text):
    with pytest.raises(ValueError, match=TOO_DEEP):
        toml_in(text)


def test_json_nested_too_deeply_is_refused():
    with pytest.raises(ValueError, match=TOO_DEEP):
        json_in("[" * DEEP)


@pytest.mark.parametrize("text", ["a = " + "9" * 6000, "a = 1\na = 2", "\n\n= 3", "a ="])
def test_other_mistakes_are_one_line(text):
    with pytest.raises(ValueError, match=r"\S") as refused:
        toml_in(text)
    assert "\n" not in str(refused.value)
    assert len(str(refused.value)) <= 300


def test_a_sentence_with_many_points_is_no_key():
    text = f'a = "{". ".join(["word"] * 60)}"'
    assert toml_in(text)["a"].count(".") == 59
