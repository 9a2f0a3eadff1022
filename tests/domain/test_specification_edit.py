"""What a form changes in a text is changed, and all the rest is the author's, byte for byte."""

import tomllib
from collections import Counter
from importlib.resources import files

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.domain.specification_edit import (
    CannotEditError,
    at,
    comments_in,
    way_of,
    with_entry,
    with_entry_moved,
    with_value,
    without_entry,
)

SHIPPED = [
    file.read_text("utf-8")
    for file in (files("resources") / "demo" / "specifications").iterdir()
    if file.name.endswith(".toml")
]
FRONT = next(text for text in SHIPPED if "mr-46-front" in text)
PRINTED = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=20)


def leaves(content, field=""):
    """Return every value's field, in the order of the text."""
    if isinstance(content, dict):
        parts = content.items()
    elif isinstance(content, list):
        parts = enumerate(content)
    else:
        return [field]
    return [
        leaf for key, value in parts for leaf in leaves(value, f"{field}.{key}" if field else key)
    ]


@st.composite
def commented(draw):
    """Return a shipped text with comments of an author on lines of their own and behind values."""
    lines = draw(st.sampled_from(SHIPPED)).split("\n")
    for place in draw(st.lists(st.integers(0, len(lines) - 2), max_size=6)):
        mark = f"# note {place}, \"46 mm\" [[steps]] = '''"
        # Within an array a line may end in a comment too, but not within one in braces.
        lines[place] += f"  {mark}" if draw(st.booleans()) and lines[place] else f"\n{mark}"
    return draw(st.sampled_from(["\n", "\r\n"])).join("\n".join(lines).split("\n"))


TEXTS = commented()


@given(TEXTS)
@settings(max_examples=6, deadline=None)
def test_from_text_to_form_to_text_is_the_same_text(text):
    content = tomllib.loads(text)
    for field in leaves(content):
        assert with_value(text, field, at(content, way_of(field))) is text


@given(TEXTS, st.data())
@settings(max_examples=25, deadline=None)
def test_from_form_to_text_to_form_is_what_was_typed(text, data):
    fields = leaves(tomllib.loads(text))
    typed = data.draw(st.dictionaries(st.sampled_from(fields), PRINTED, min_size=1, max_size=4))
    made = text
    for field, value in typed.items():
        made = with_value(made, field, value)
    content = tomllib.loads(made)
    was = tomllib.loads(text)
    for field in fields:
        wanted = typed.get(field, at(was, way_of(field)))
        assert at(content, way_of(field)) == wanted
    assert leaves(content) == fields, "no order changed"
    assert comments_in(made) == comments_in(text)
    back = made
    for field in typed:
        back = with_value(back, field, at(was, way_of(field)))
    assert tomllib.loads(back) == was


@given(TEXTS, st.data())
@settings(max_examples=25, deadline=None)
def test_steps_are_moved_with_their_comments_and_move_back(text, data):
    count = len(tomllib.loads(text)["steps"])
    place, to = data.draw(st.tuples(*[st.integers(0, count - 1)] * 2))
    moved = with_entry_moved(text, "steps", place, to - place)
    was, now = (tomllib.loads(one) for one in (text, moved))
    was["steps"].insert(to, was["steps"].pop(place))
    assert now == was
    assert Counter(comments_in(moved)) == Counter(comments_in(text))
    assert with_entry_moved(moved, "steps", to, place - to).rstrip() == text.rstrip()


@given(TEXTS, st.data())
@settings(max_examples=20, deadline=None)
def test_a_step_that_was_put_in_and_taken_out_leaves_the_text(text, data):
    content = tomllib.loads(text)
    place = data.draw(st.integers(0, len(content["steps"]) - 1))
    step = {"id": "extra", "kind": "confirm", "title": 'A "new" one', "inputs": [{"type": "line"}]}
    made = with_entry(text, "steps", place, step)
    content["steps"].insert(place, step)
    assert tomllib.loads(made) == content
    assert comments_in(made) == comments_in(text)
    assert without_entry(made, "steps", place) == text


def test_what_stands_above_a_step_goes_with_it():
    text = (
        '[[steps]]\nid = "a"\n\n# why b\n[[steps]]\nid = "b" # short\n[steps.choose]\nlabel = "x"\n'
    )
    moved = with_entry_moved(text, "steps", 1, -1)
    assert moved == (
        '# why b\n[[steps]]\nid = "b" # short\n[steps.choose]\nlabel = "x"\n\n[[steps]]\nid = "a"\n'
    )


def test_a_step_behind_the_last_one_stands_before_other_tables():
    text = '[[steps]]\nid = "a"\n[matching]\noil = "2 mL"\n'
    made = with_entry(text, "steps", 1, {"id": "b"})
    assert made == '[[steps]]\nid = "a"\n\n[[steps]]\nid = "b"\n\n[matching]\noil = "2 mL"\n'


@pytest.mark.parametrize("field", ["steps.5.parts", "stacks.compression", "steps.2.confirmations"])
def test_entries_of_a_list_are_added_moved_and_dropped(field):
    text = FRONT.replace('count = 1 },\n  { number = "WP', 'count = 1 }, # thin\n  { number = "WP')
    was = tomllib.loads(text)
    listed = at(was, way_of(field))
    for by in (1, -1):
        place = 0 if by == 1 else 1
        moved = with_entry_moved(text, field, place, by)
        assert at(tomllib.loads(moved), way_of(field))[:2] == listed[1::-1]
        assert Counter(comments_in(moved)) == Counter(comments_in(text))
    new = "Said" if isinstance(listed[0], str) else {"number": "N-1", "count": 2}
    made = with_entry(text, field, 1, new)
    assert at(tomllib.loads(made), way_of(field)) == [listed[0], new, *listed[1:]]
    assert tomllib.loads(without_entry(made, field, 1)) == was


def test_an_entry_at_the_end_stays_where_it_is():
    assert with_entry_moved(FRONT, "steps", 0, -1) is FRONT
    assert with_entry_moved(FRONT, "stacks.rebound", 4, 1) is FRONT
    assert with_entry_moved(FRONT, "nothing", 0, 1) is FRONT


def test_a_first_entry_and_a_missing_table_are_made():
    made = with_entry(FRONT, "steps.0.inputs", 0, {"type": "text", "label": "Why"})
    assert at(tomllib.loads(made), way_of("steps.0.inputs")) == [{"type": "text", "label": "Why"}]
    sledge = next(text for text in SHIPPED if 'id = "sledge-36"' in text)
    disc = {"outer": "30 mm", "thickness": "0.2 mm"}
    made = with_entry(sledge, "stacks.compression", 0, disc)
    assert tomllib.loads(made)["stacks"] == {"compression": [disc]}
    made = with_value(FRONT, "gas.service.lost", "0.2 bar")
    assert tomllib.loads(made)["gas"]["service"] == {"lost": "0.2 bar"}
    assert tomllib.loads(with_value(made, "gas.service.lost", None))["gas"]["service"] == {}
    assert with_value(FRONT, "gas.service.lost", None) is FRONT
    assert (
        "piston_room" not in tomllib.loads(with_value(FRONT, "limits.piston_room", None))["limits"]
    )


def test_half_a_value_is_kept_as_typed():
    made = with_value(FRONT, "geometry.bore", '46 "m')
    assert tomllib.loads(made)["geometry"]["bore"] == '46 "m'


@pytest.mark.parametrize("text", ["[geometry", "a = 1\na = 2", 'x = "'])
def test_a_half_typed_text_is_not_touched(text):
    for change in (
        lambda: with_value(text, "a", 2),
        lambda: with_entry(text, "steps", 0, {"id": "a"}),
        lambda: with_entry_moved(text, "steps", 0, 1),
    ):
        with pytest.raises(CannotEditError, match="not TOML"):
            change()


def test_steps_written_in_brackets_are_changed_too():
    text = 'steps = [ { id = "a" }, { id = "b" } ] # both\n'
    assert tomllib.loads(with_entry_moved(text, "steps", 0, 1))["steps"] == [
        {"id": "b"},
        {"id": "a"},
    ]


def test_headers_in_strings_and_comments_are_none():
    text = (
        'a = """\n[[steps]]\n"""\n# [[steps]]\n[[steps]]\nid = "a"\nb = [\n [1], # [x]\n]\n'
        '[[steps]]\nid = "b"\n'
    )
    moved = with_entry_moved(text, "steps", 0, 1)
    assert [step["id"] for step in tomllib.loads(moved)["steps"]] == ["b", "a"]
