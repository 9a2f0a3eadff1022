"""No profile can hang the reader: patterns repeat nothing inside a repeat, and lines are short.

Shown in two ways. By structure: in the pattern of a frame nothing of variable length stands inside
a repeat, and the few repeats that there are begin with different characters, so a line is walked a
bounded number of times however it looks. By measurement: the worst lines that fit under the cap,
through any profile that can be made of the fields there are.
"""

import time
from re import _constants, _parser

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from benchstation.devices.profile import load_profile, profile_ids
from benchstation.driver_api.errors import OptionError
from benchstation.driver_api.framing import DEFAULT_CAP
from drivers.text_line import TextLineDriver

UNITS = {"g": 0.001, "kg": 1.0, "00": 1.0, "-": 1.0, ".0": 1.0}
MOST_REPEATS = 6
SLOWEST_LINE_S = 0.002
texts = st.text(st.sampled_from("0-. ?,S"), min_size=1, max_size=3)


def codes(*meanings):
    return st.integers(1, 3).flatmap(
        lambda size: st.dictionaries(
            st.text(st.sampled_from("0-. ?S"), min_size=size, max_size=size),
            st.sampled_from(meanings),
            min_size=1,
            max_size=4,
        )
    )


def field(kind, **parts):
    optional = parts.pop("optional", {})
    return st.fixed_dictionaries({"kind": st.just(kind), **parts}, optional=optional)


widths = st.integers(1, 16)
NUMBER = st.one_of(
    field(
        "number",
        optional={"longest": widths, "floating_minus": st.booleans(), "decimals": st.just(2)},
    ),
    field(
        "number",
        width=widths,
        pad=st.sampled_from(("space", "zero")),
        optional={"floating_minus": st.booleans()},
    ),
)
FIELDS = st.one_of(
    field("literal", text=texts),
    field("status", codes=codes("stable", "moving", "overload")),
    field("net", codes=codes("net", "gross")),
    field("sign", plus=st.sampled_from(" +0"), minus=st.sampled_from("-0")),
    NUMBER,
    field("unit"),
    field(
        "unit",
        width=st.integers(2, 5),
        align=st.sampled_from(("left", "right")),
        optional={"blank_when_moving": st.booleans()},
    ),
    field("other", width=widths, holds=st.sampled_from(("digits", "printable"))),
    field(
        "bits",
        bits=st.just([{"mask": 1, "value": 1, "means": "net"}]),
        optional={"always": st.just({"mask": 2, "value": 2})},
    ),
    field("checksum", algorithm=st.sampled_from(("xor", "sum", "crc16"))),
)


@st.composite
def layouts(draw):
    """Return fields in an order that is mostly allowed: each kind once, a checksum last."""
    drawn = draw(st.lists(FIELDS, min_size=1, max_size=7))
    fields = {}
    for number, one in enumerate(drawn):
        kind = one["kind"]
        fields[kind if kind not in ("literal", "other", "bits") else number] = one
    if "number" not in fields:
        fields["number"] = draw(NUMBER)
    last = fields.pop("checksum", None)
    return [*fields.values(), *([last] if last else [])]


WORST = [character * (DEFAULT_CAP - 3) for character in (b"0", b"-", b" ", b".", b"S", b"\xff")]
WORST += [b"0." * 126, b" 0" * 126, b"-0" * 126, b" " * 120 + b"0" * 120 + b"x"]


def variable_repeats(tree, inside=False):
    """Return the repeats of variable length in a parsed pattern; none may hold another."""
    found = []
    for operator, argument in tree:
        if operator in (_constants.MAX_REPEAT, _constants.MIN_REPEAT):
            low, high, body = argument
            variable = low != high
            assert not (variable and inside), "a repeat stands inside a repeat"
            optional = variable and (low, high) == (0, 1)
            if variable and not optional:
                found.append((low, high))
            # What may stand once or not at all is walked at most once.
            found += variable_repeats(body, inside or (variable and not optional))
        elif operator is _constants.SUBPATTERN:
            found += variable_repeats(argument[3], inside)
        elif operator in (_constants.ASSERT, _constants.ASSERT_NOT):
            found += variable_repeats(argument[1], inside)
        elif operator is _constants.BRANCH:
            found += [
                repeat for branch in argument[1] for repeat in variable_repeats(branch, inside)
            ]
    return found


def made(fields):
    options = {"channel": {"quantity": "mass"}, "units": UNITS, "fields": fields, "poll": "P"}
    try:
        return TextLineDriver({**options, "unit": "g"})
    except OptionError:
        pass
    try:
        return TextLineDriver(options)
    except OptionError:
        return None


@settings(max_examples=150, suppress_health_check=list(HealthCheck))
@given(layouts())
def test_no_profile_is_slow_on_any_line(fields):
    driver = made(fields)
    assume(driver is not None)
    repeats = variable_repeats(_parser.parse(driver._frame.pattern.pattern))
    assert len(repeats) <= MOST_REPEATS
    for line in WORST:
        start = time.perf_counter()
        driver.feed((line + b"\r\n") * 20, 0.0)
        spent = (time.perf_counter() - start) / 20
        # One more try for a machine that was busy elsewhere.
        if spent > SLOWEST_LINE_S:
            start = time.perf_counter()
            driver.feed((line + b"\r\n") * 20, 0.0)
            spent = (time.perf_counter() - start) / 20
        assert spent < SLOWEST_LINE_S, f"{fields} takes {spent:.4f} s for {line[:8]!r}..."


@pytest.mark.parametrize("profile_id", profile_ids())
def test_no_shipped_profile_is_slow_on_any_bytes(profile_id):
    """A second of the worst noise at 115,200 baud takes less than a fifth of a second."""
    driver = load_profile(profile_id).make_driver()
    poll = driver.poll() or b""
    for line in [*WORST, poll * 9, bytes(range(256))]:
        for end in (b"\r\n", b"\r", b"\x03", b"\x02"):
            data = line + end
            count = 11_520 // len(data)
            start = time.perf_counter()
            driver.feed(data * count, 0.0)
            assert time.perf_counter() - start < 0.2, (line[:8], end)


def test_a_repeat_inside_a_repeat_would_be_seen():
    with pytest.raises(AssertionError, match="inside a repeat"):
        variable_repeats(_parser.parse(b"(?:[0-9]+,?)*x"))
    assert variable_repeats(_parser.parse(b" *[0-9]+(?:\\.[0-9]+)?")) == [
        (0, _constants.MAXREPEAT),
        (1, _constants.MAXREPEAT),
        (1, _constants.MAXREPEAT),
    ]
