"""Lists of units: every bad row told by its line, no cell ever more than text."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.demo import shop as demo
from benchstation.domain.order_lists import MOST_BYTES, read_units, text_of
from benchstation.domain.orders import Wanted
from benchstation.domain.unit_commands import NotAllowedError

SPECIFICATIONS = tuple(demo.specifications().values())
HEAD = "serial,family,position,order\n"
plain = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), max_size=30)


def read(text: str):
    return read_units(text, SPECIFICATIONS)


def test_units_come_by_order_in_the_order_of_the_file():
    units = read(HEAD + "S-1,mr-46-front,left,B\n,MR-46-REAR,,A\nS-3,sledge-36,,B\n")
    assert units.by_order() == {
        "B": [Wanted("S-1", "mr-46-front", "left"), Wanted("S-3", "sledge-36", "")],
        "A": [Wanted("", "mr-46-rear", "")],
    }
    assert [row.line for row in units.rows] == [2, 3, 4]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_columns_may_stand_in_any_order_and_be_parted_otherwise(separator):
    rows = [["Order", "Serial", "FAMILY", "position", "due"], ["A", "S", "sledge-36", "", ""]]
    text = "\r\n".join(separator.join(row) for row in rows)
    assert read(text).by_order() == {"A": [Wanted("S", "sledge-36", "")]}


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("=1+1,sledge-36,,A", "line 3: the serial begins like a formula, with '='"),
        ("S,sledge-36,@x,A", "line 3: the position '@x' begins like a formula"),
        ("S,ghost,,A", "line 3: no family is called 'ghost'"),
        ("S,sledge-36,", "line 3: 3 cells where the first line has 4"),
        ("S,sledge-36,,", "line 3: the order is missing"),
        ("S,sledge-36,,A,more", "line 3: 5 cells"),
        (f"{'x' * 65},sledge-36,,A", "line 3: the serial is longer than 64"),
        ("a\u202eb,sledge-36,,A", "line 3: the serial holds characters that cannot be seen"),
        ("good,sledge-36,,a", "line 3: this serial stands in its order twice"),
        ('"open,sledge-36,,A', "line 3: unexpected end of data"),
    ],
)
def test_a_bad_row_is_told_by_its_line_and_nothing_is_taken(row, said):
    with pytest.raises(NotAllowedError, match=said):
        read(f"{HEAD}good,sledge-36,,A\n{row}\n")


def test_every_bad_row_is_told_up_to_a_screenful():
    with pytest.raises(NotAllowedError, match=r"line 2: .*line 7: .*; and 4 more"):
        read(HEAD + "S,ghost,,A\n" * 10)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "does not name serial"),
        ("serial,family\n", "does not name position, order"),
        (HEAD, "holds no unit"),
        (HEAD + "x" * MOST_BYTES, "longer than 200 kB"),
    ],
)
def test_what_is_no_list_is_refused(text, said):
    with pytest.raises(NotAllowedError, match=said):
        read(text)


def test_bytes_that_are_no_text_are_told_by_their_line():
    assert text_of(b"\xef\xbb\xbfserial") == "serial"
    with pytest.raises(NotAllowedError, match="line 2 is not UTF-8"):
        text_of(b"a\nb\xff")
    with pytest.raises(NotAllowedError, match="longer than"):
        text_of(b"x" * (MOST_BYTES + 1))


@given(st.lists(st.tuples(plain, plain, plain), min_size=1, max_size=4))
def test_any_cells_are_taken_as_they_are_or_refused_in_words(rows):
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["serial", "family", "position", "order"])
    for serial, position, order in rows:
        writer.writerow([serial, "sledge-36", position, order])
    try:
        units = read(out.getvalue())
    except NotAllowedError:
        return
    taken = [(r.unit.serial, r.unit.position, r.order) for r in units.rows]
    assert taken == [tuple(cell.strip() for cell in row) for row in rows]
    assert not any(cell.startswith(("=", "+", "-", "@")) for row in taken for cell in row)
