"""Queries: numbers as the standard writes them, and an error queue that is asked in turn."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.driver_api.errors import OptionError, UnsupportedCommandError
from benchstation.driver_api.reading import Fault, FaultKind, Reading, Reply
from drivers.scpi_query import ScpiQueryDriver

QUERY, ERRORS = b"MEAS:PRES?\n", b"SYST:ERR?\n"
EMPTY = b'0,"No error"\n'


def driver(**changes):
    options = {
        "channel": {"quantity": "pressure", "reference": "gauge"},
        "query": "MEAS:PRES?",
        "unit": "kPa",
        "factor": 1000.0,
    }
    return ScpiQueryDriver({k: v for k, v in (options | changes).items() if v is not None})


def one(made, data):
    (item,) = made.feed(data, 0.0)
    return item


@given(st.integers(-(10**7), 10**7), st.sampled_from(["{:d}", "{:.3f}", "{:+.6E}"]))
def test_each_form_of_number(number, form):
    line = form.format(number).encode() + b"\n"
    assert one(driver(), line).value == pytest.approx(float(line) * 1000.0, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "step"), [("12", 1e3), ("1.50", 10.0), ("1.500E+03", 1e3), ("1.5E-02", 1.0)]
)
def test_the_resolution_is_one_step_of_the_last_digit(text, step):
    assert one(driver(), text.encode() + b"\n").resolution == pytest.approx(step)


@pytest.mark.parametrize("text", ["9.9E99", "-9.9E99", "9" * 16 + ".0E99"])
def test_numbers_beyond_all_measure_are_faults(text):
    assert isinstance(one(driver(), text.encode() + b"\n"), Fault)


def test_the_queue_is_emptied_first_and_then_left_alone():
    made = driver()
    assert made.poll() == ERRORS
    assert one(made, EMPTY) == Reply("errors", True, 0.0, EMPTY)
    assert [made.poll() for _ in range(3)] == [QUERY] * 3


def test_values_go_on_while_the_queue_is_full():
    made = driver()
    asked = []
    for _ in range(6):
        asked.append(made.poll())
        made.feed(b'-222,"Data out of range"\n' if asked[-1] == ERRORS else b"1.0\n", 0.0)
    assert asked == [ERRORS, QUERY] * 3


def test_an_answer_that_does_not_come_has_its_reason_in_the_queue():
    made = driver()
    made.poll(), made.feed(EMPTY, 0.0), made.poll()
    made.reset()
    assert made.poll() == ERRORS
    fault = one(made, b'-113,"Undefined header"\n')
    assert fault.kind is FaultKind.DEVICE_ERROR
    assert fault.detail == 'the instrument reports -113,"Undefined header"'


def test_an_instrument_without_a_queue_is_soon_no_longer_asked():
    made = driver()
    asked = []
    for _ in range(8):
        asked.append(made.poll())
        if asked[-1] == ERRORS:
            made.reset()
        else:
            made.feed(b"1.0\n", 0.0)
    assert asked.count(ERRORS) == 2
    assert asked[-3:] == [QUERY] * 3


def test_the_queue_is_asked_now_and_then():
    made = driver(error_every=5)
    asked = []
    for _ in range(14):
        asked.append(made.poll())
        made.feed(EMPTY if asked[-1] == ERRORS else b"1.0\n", 0.0)
    assert [number for number, request in enumerate(asked) if request == ERRORS] == [0, 6, 12]


def test_a_queue_that_nobody_wants_is_never_asked():
    made = driver(error_every=0)
    made.reset()
    made.feed(b"nonsense\n", 0.0)
    assert [made.poll() for _ in range(3)] == [QUERY] * 3


def test_nonsense_asks_the_queue():
    made = driver()
    made.poll(), made.feed(EMPTY, 0.0), made.poll()
    assert one(made, b"Ready>\n").kind is FaultKind.BAD_FRAME
    assert made.poll() == ERRORS


def test_commands_end_like_queries():
    made = driver(commands={"zero": "CAL:ZERO"})
    assert (made.hello(), made.command("zero")) == (b"*IDN?\n", b"CAL:ZERO\n")
    with pytest.raises(UnsupportedCommandError, match="tare"):
        made.command("tare")


@given(st.lists(st.binary(max_size=40) | st.sampled_from([EMPTY, b"1.5E+3\n", b'"', b","])))
def test_any_bytes(parts):
    made = driver()
    items = [item for part in parts for item in made.feed(part, 0.0)]
    assert made._framer.pending <= 300
    for item in items:
        assert not isinstance(item, Reading) or abs(item.value) < 1e41


@pytest.mark.parametrize(
    ("changes", "named"),
    [
        ({"query": None}, "query"),
        ({"query": ""}, "query"),
        ({"factor": 0.0}, "factor"),
        ({"error_every": -1}, "error_every"),
        ({"commands": {"tare": "é"}}, "tare"),
        ({"commands": {"fire": "X"}}, "fire"),
    ],
)
def test_an_option_that_makes_no_sense_is_refused_by_name(changes, named):
    with pytest.raises(OptionError) as refused:
        driver(**changes)
    assert named in str(refused.value)
